"""What begins deliveries: a look at the clock every minute, for addresses whose hour has come and for later tries."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from api import jobs
from api.mail import store
from api.mail.delivery import WORK
from api.mail.service import week_begun
from api.storage.session import reading, writing
from api.storage.tables import DigestDelivery

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session

    from api.storage.engine import Database

EVERY_SECONDS = 60.0
MOST_AT_ONCE = 100
GRACE = timedelta(hours=1)
"""How long a queued job has before the delivery counts as left behind and gets another one."""


def tick(database: Database, now: datetime) -> int:
    """Queue what is to be sent by now; several processes may do so at once, and each delivery is begun once.

    Returns:
        how many jobs were queued.
    """
    with reading(database) as session:
        due = [
            (row.fleet_id, row.id, week)
            for row, zone in store.all_subscriptions(session)
            if (week := week_begun(row, zone, now)) is not None and (row.last_week or "") < week
        ]
    begun = 0
    for fleet_id, subscription_id, week in due:
        with writing(database) as session:
            if store.claim_week(session, subscription_id, week):
                row = DigestDelivery(fleet_id=fleet_id, subscription_id=subscription_id, week=week)
                _queue(session, row, now)
                begun += 1
    with writing(database) as session:
        late = store.overdue(session, now, MOST_AT_ONCE)
        for row in late:
            _queue(session, row, now)
    return begun + len(late)


def _queue(session: Session, row: DigestDelivery, now: datetime) -> None:
    session.add(row)
    session.flush()
    job = jobs.enqueue(session, row.fleet_id, kind=WORK, payload={"delivery_id": row.id})
    row.job_id, row.next_try_at = job.id, now + GRACE
