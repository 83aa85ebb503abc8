"""Events leave as rows: whoever changes something tells it in the same transaction, and a job delivers it later.

A rollback tells nothing; what is committed is delivered at least once, however often a process dies on the way.
"""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Literal

from api import jobs
from api.storage.tables import WebhookDelivery, WebhookEvent
from api.storage.types import utc_now
from api.webhooks import store

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

    from api.storage.tables import Webhook

EventKind = Literal["due_soon.entered", "due_soon.left", "schedule.changed", "model.changed", "digest.ready"]
"""What other systems can be told."""

PING = "ping"
"""An event without news, sent when somebody asks for one."""

WORK = "deliver"

GRACE = timedelta(minutes=15)
"""How long a queued job has before its delivery counts as left behind and gets another one."""


def wanted(session: Session, fleet_id: str) -> set[str]:
    """The kinds of events that somebody in the fleet wants told; most fleets want none."""
    return {kind for hook in store.enabled(session, fleet_id) for kind in hook.events}


def tell(session: Session, fleet_id: str, kind: EventKind, data: dict[str, Any]) -> None:
    """Write an event for everyone who wants it, in the caller's transaction.

    Args:
        session: a session that writes.
        fleet_id: whose event.
        kind: what happened.
        data: what the receiver is told, as JSON can say it.
    """
    hooks = [hook for hook in store.enabled(session, fleet_id) if kind in hook.events]
    if hooks:
        post(session, fleet_id, kind, data, hooks)


def post(
    session: Session, fleet_id: str, kind: str, data: dict[str, Any], hooks: Collection[Webhook]
) -> list[WebhookDelivery]:
    """Write an event and its deliveries to these webhooks, each with its job."""
    said = {"type": kind, "timestamp": utc_now().isoformat().replace("+00:00", "Z"), "data": data}
    event = WebhookEvent(
        fleet_id=fleet_id, kind=kind, body=json.dumps(said, ensure_ascii=False, separators=(",", ":"))
    )
    session.add(event)
    session.flush()
    rows = [WebhookDelivery(fleet_id=fleet_id, webhook_id=hook.id, event_id=event.id) for hook in hooks]
    for row in rows:
        queue(session, row)
    return rows


def queue(session: Session, row: WebhookDelivery) -> None:
    """Queue a try of a delivery, in the caller's transaction."""
    session.add(row)
    session.flush()
    job = jobs.enqueue(session, row.fleet_id, kind=WORK, payload={"delivery_id": row.id})
    row.job_id, row.next_try_at = job.id, utc_now() + GRACE
    session.flush()
