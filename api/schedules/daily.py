"""Every day, by the calendar where a fleet is: its dates are worked out anew and what came to be due soon is told."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from api import jobs
from api.bridge.forecasts.redating import redate
from api.fleets.today import today_of
from api.notices import due_soon
from api.schedules import store
from api.storage.types import utc_now
from api.webhooks.delivery import KEPT
from api.webhooks.store import forget_events

if TYPE_CHECKING:
    from datetime import datetime

    from api.storage.tables import Job
    from planner.progress import Progress

WORK = "re-date"
EVERY_SECONDS = 60.0


def tick(sessions: jobs.Sessions, now: datetime) -> int:
    """Queue the day's work of every fleet where a new day has begun; several processes may do so at once.

    Returns:
        how many jobs were queued.
    """
    with sessions.reading() as session:
        zones = store.fleet_days(session)
    begun = 0
    for fleet_id, zone, dated_on in zones:
        today = now.astimezone(ZoneInfo(zone)).date()
        if dated_on is not None and dated_on >= today:
            continue
        with sessions() as session:
            if store.claim_day(session, fleet_id, today):
                payload = {"day": today.isoformat()}
                jobs.enqueue(session, fleet_id, kind=WORK, payload=payload, behind=True)
                begun += 1
    return begun


def work(sessions: jobs.Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Work out the fleet's dates for its day, tell what came to be due soon, forget events of long ago.

    Run twice for the same day, it finds nothing left to do.

    Returns:
        {"day", "cars", "failed"}.
    """
    with sessions.reading() as session:
        today = max(today_of(session, job.fleet_id), date.fromisoformat(payload["day"]))
    cars, failed = redate(sessions, job.fleet_id, today, progress)
    due_soon.compare_fleet(sessions, job.fleet_id, today)
    with sessions() as session:
        forget_events(session, job.fleet_id, utc_now() - KEPT)
    return {"day": today.isoformat(), "cars": cars, "failed": failed}


jobs.register(WORK, work)
