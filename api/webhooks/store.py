"""Queries for webhooks, events and deliveries."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import delete, update
from sqlmodel import col, select

from api.storage.tables import Webhook, WebhookDelivery, WebhookEvent

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def webhooks_of(fleet_id: str) -> SelectOfScalar[Webhook]:
    """All webhooks of one fleet, oldest first, for paging."""
    found = select(Webhook).where(Webhook.fleet_id == fleet_id)
    return found.order_by(col(Webhook.created_at), col(Webhook.id))


def webhook(session: Session, fleet_id: str, webhook_id: str) -> Webhook | None:
    """One webhook of one fleet."""
    found = select(Webhook).where(Webhook.fleet_id == fleet_id, Webhook.id == webhook_id)
    return session.exec(found).one_or_none()


def webhook_for_change(session: Session, fleet_id: str, webhook_id: str) -> Webhook | None:
    """The same, held until the transaction ends."""
    found = select(Webhook).where(Webhook.fleet_id == fleet_id, Webhook.id == webhook_id)
    return session.exec(found.with_for_update()).one_or_none()


def enabled(session: Session, fleet_id: str) -> list[Webhook]:
    """The fleet's webhooks that get their events."""
    found = select(Webhook).where(Webhook.fleet_id == fleet_id, col(Webhook.disabled_at).is_(None))
    return list(session.exec(found.order_by(col(Webhook.created_at), col(Webhook.id))))


def deliveries_of(fleet_id: str, webhook_id: str, state: str | None) -> SelectOfScalar[WebhookDelivery]:
    """The deliveries to one webhook, latest first, for paging.

    Args:
        fleet_id: whose.
        webhook_id: to which webhook.
        state: only those in this state; None: all.
    """
    found = select(WebhookDelivery).where(
        WebhookDelivery.fleet_id == fleet_id, WebhookDelivery.webhook_id == webhook_id
    )
    if state is not None:
        found = found.where(WebhookDelivery.state == state)
    return found.order_by(col(WebhookDelivery.created_at).desc(), col(WebhookDelivery.id).desc())


def delivery(
    session: Session, fleet_id: str, delivery_id: str
) -> tuple[WebhookDelivery, Webhook, WebhookEvent] | None:
    """One delivery with where it goes and what it says."""
    found = (
        select(WebhookDelivery, Webhook, WebhookEvent)
        .join(Webhook, col(Webhook.id) == col(WebhookDelivery.webhook_id))
        .join(WebhookEvent, col(WebhookEvent.id) == col(WebhookDelivery.event_id))
        .where(WebhookDelivery.fleet_id == fleet_id, WebhookDelivery.id == delivery_id)
    )
    row = session.exec(found).one_or_none()
    return None if row is None else (row[0], row[1], row[2])


def events(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, WebhookEvent]:
    """Events by their ids."""
    found = select(WebhookEvent).where(WebhookEvent.fleet_id == fleet_id, col(WebhookEvent.id).in_(ids))
    return {row.id: row for row in session.exec(found)}


def overdue(session: Session, now: datetime, most: int) -> list[WebhookDelivery]:
    """Deliveries of every fleet whose next try has come, held until the transaction ends."""
    found = select(WebhookDelivery).where(col(WebhookDelivery.next_try_at) <= now)
    ordered = found.order_by(col(WebhookDelivery.next_try_at)).limit(most)
    return list(session.exec(ordered.with_for_update(skip_locked=True)))


def any_overdue(session: Session, now: datetime) -> bool:
    """Whether any delivery's next try has come."""
    return (
        session.exec(select(WebhookDelivery.id).where(col(WebhookDelivery.next_try_at) <= now)).first()
        is not None
    )


def forget_events(session: Session, fleet_id: str, before: datetime) -> None:
    """Drop events of long ago with their deliveries."""
    session.execute(
        delete(WebhookEvent).where(
            col(WebhookEvent.fleet_id) == fleet_id, col(WebhookEvent.created_at) < before
        )
    )


def note_success(session: Session, fleet_id: str, webhook_id: str, moment: datetime) -> None:
    """Write when a webhook last took an event, leaving its version and entity tag as they are."""
    session.execute(
        update(Webhook)
        .where(col(Webhook.fleet_id) == fleet_id, col(Webhook.id) == webhook_id)
        .values(succeeded_at=moment, updated_at=Webhook.updated_at)
        .execution_options(synchronize_session=False)
    )
