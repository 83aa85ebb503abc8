"""The job that makes one try at one delivery, and says when the next one is."""

from __future__ import annotations

import random
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from api.storage.types import utc_now
from api.webhooks import outbox, service, store
from api.webhooks.posting import Message, Outcome, post

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session

    from api.jobs import Sessions
    from api.settings import Settings
    from api.storage.tables import Job, Webhook, WebhookDelivery
    from planner.progress import Progress

WAITS = tuple(
    timedelta(seconds=seconds) for seconds in (5, 300, 1800, 7200, 18_000, 36_000, 50_400, 72_000, 86_400)
)
"""Rests before the second try and the later ones, as the Standard Webhooks specification proposes: over three days."""

JITTER = 0.2
"""A rest is longer or shorter by up to this share, so that what failed together does not come back together."""

MOST_AT_ONCE = 200
KEPT = timedelta(days=30)
"""How long events and their deliveries stay to be looked at."""

_HTTP_GONE = 410
_NOBODY: dict[str, Any] = {"state": "dropped", "status": None, "problem": "the webhook was taken away"}


@dataclass(frozen=True)
class Delivering:
    """The work, with the settings of the process that does it."""

    settings: Settings

    def __call__(
        self, sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress
    ) -> dict[str, Any] | None:
        """Make one try, outside any transaction, and write down how it went.

        Returns:
            {"state", "status", "problem"} of the delivery.
        """
        delivery_id = str(payload["delivery_id"])
        with sessions.reading() as session:
            found = store.delivery(session, job.fleet_id, delivery_id)
        if found is None:
            return _NOBODY
        row, hook, event = found
        if row.state != "waiting" or hook.disabled_at is not None:
            with sessions() as session:
                return _drop(session, job.fleet_id, delivery_id)
        message = Message(event.id, event.body, service.secrets_of(hook, utc_now()))
        progress(0, 1, "posting")
        outcome = post(hook.url, message, utc_now(), listed=self.settings.webhook_hosts)
        with sessions() as session:
            return _note(session, job.fleet_id, delivery_id, outcome)


def _drop(session: Session, fleet_id: str, delivery_id: str) -> dict[str, Any]:
    """Nothing more is to be done: it is delivered, or nobody is to get it."""
    found = store.delivery(session, fleet_id, delivery_id)
    if found is None:
        return _NOBODY
    row = found[0]
    if row.state == "waiting":
        row.state, row.problem = "dropped", "the webhook is disabled"
    row.next_try_at = None
    session.add(row)
    session.flush()
    return _result(row)


def _note(session: Session, fleet_id: str, delivery_id: str, outcome: Outcome) -> dict[str, Any]:
    """Write down a try, when the next one is, and what it means for the webhook."""
    found = store.delivery(session, fleet_id, delivery_id)
    if found is None:
        return _NOBODY
    row, hook, _ = found
    now = utc_now()
    row.attempts, row.tries = row.attempts + 1, row.tries + 1
    row.status, row.problem, row.next_try_at = outcome.status, outcome.problem, None
    if outcome.problem is None:
        row.state, row.delivered_at = "delivered", now
        store.note_success(session, hook.fleet_id, hook.id, now)
    elif outcome.status == _HTTP_GONE:
        row.state = "dropped"
        service.disable(hook, service.GONE)
    elif row.tries > len(WAITS):
        row.state = "given up"
        _give_up(row, hook)
    else:
        row.next_try_at = now + rest(row.tries, outcome.wait)
    session.add_all((row, hook))
    session.flush()
    return _result(row)


def rest(tries: int, asked: float | None) -> timedelta:
    """How long to wait after so many tries that failed; never shorter than the other side asked for, in seconds."""
    planned = WAITS[tries - 1] * random.uniform(1 - JITTER, 1 + JITTER)  # noqa: S311 - spreads load, keeps no secret
    return planned if asked is None else max(planned, timedelta(seconds=asked))


def _give_up(row: WebhookDelivery, hook: Webhook) -> None:
    """Disable a webhook that has taken nothing at all since this delivery was first tried, days ago."""
    if hook.succeeded_at is None or hook.succeeded_at < row.created_at:
        service.disable(hook, service.FAILING)


def _result(row: WebhookDelivery) -> dict[str, Any]:
    return {"state": row.state, "status": row.status, "problem": row.problem}


def tick(sessions: Sessions, now: datetime) -> int:
    """Queue the tries whose time has come; several processes may do so at once.

    Returns:
        how many jobs were queued.
    """
    with sessions.reading() as session:
        if not store.any_overdue(session, now):
            return 0
    with sessions() as session:
        rows = store.overdue(session, now, MOST_AT_ONCE)
        for row in rows:
            outbox.queue(session, row)
    return len(rows)
