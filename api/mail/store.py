"""Queries for addresses that get digests, and for deliveries."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import CursorResult, or_, update
from sqlmodel import col, select

from api.storage.tables import DigestDelivery, DigestSubscription, Fleet

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def subscriptions_of(fleet_id: str) -> SelectOfScalar[DigestSubscription]:
    """All addresses of one fleet, oldest first, for paging."""
    found = select(DigestSubscription).where(DigestSubscription.fleet_id == fleet_id)
    return found.order_by(col(DigestSubscription.created_at), col(DigestSubscription.id))


def subscription(session: Session, fleet_id: str, subscription_id: str) -> DigestSubscription | None:
    """One address of one fleet."""
    found = select(DigestSubscription).where(
        DigestSubscription.fleet_id == fleet_id, DigestSubscription.id == subscription_id
    )
    return session.exec(found).one_or_none()


def of_address(session: Session, fleet_id: str, address: str) -> DigestSubscription | None:
    """The subscription of an address."""
    found = select(DigestSubscription).where(
        DigestSubscription.fleet_id == fleet_id, DigestSubscription.address == address
    )
    return session.exec(found).one_or_none()


def latest(session: Session, subscription_id: str) -> DigestDelivery | None:
    """The latest delivery to an address."""
    found = select(DigestDelivery).where(DigestDelivery.subscription_id == subscription_id)
    return session.exec(found.order_by(col(DigestDelivery.week).desc()).limit(1)).one_or_none()


def all_subscriptions(session: Session) -> list[tuple[DigestSubscription, str]]:
    """Every address of every fleet with the fleet's time zone, for the clock."""
    found = select(DigestSubscription, Fleet.time_zone).join(
        Fleet, col(Fleet.id) == col(DigestSubscription.fleet_id)
    )
    return [(row, zone) for row, zone in session.exec(found.order_by(col(DigestSubscription.id)))]


def claim_week(session: Session, subscription_id: str, week: str) -> bool:
    """Mark a week as begun; of several claimants one gets True."""
    statement = (
        update(DigestSubscription)
        .where(col(DigestSubscription.id) == subscription_id)
        .where(or_(col(DigestSubscription.last_week).is_(None), col(DigestSubscription.last_week) < week))
        .values(last_week=week, version=DigestSubscription.version + 1)
        .execution_options(synchronize_session=False)
    )
    return cast("CursorResult[Any]", session.execute(statement)).rowcount == 1


def overdue(session: Session, now: datetime, most: int) -> list[DigestDelivery]:
    """Deliveries whose next try has come, held until the transaction ends."""
    found = select(DigestDelivery).where(col(DigestDelivery.next_try_at) <= now)
    return list(
        session.exec(
            found.order_by(col(DigestDelivery.next_try_at)).limit(most).with_for_update(skip_locked=True)
        )
    )


def delivery(
    session: Session, fleet_id: str, delivery_id: str
) -> tuple[DigestDelivery, DigestSubscription] | None:
    """One delivery and the address that it goes to."""
    found = (
        select(DigestDelivery, DigestSubscription)
        .join(DigestSubscription, col(DigestSubscription.id) == col(DigestDelivery.subscription_id))
        .where(DigestDelivery.fleet_id == fleet_id, DigestDelivery.id == delivery_id)
    )
    row = session.exec(found).one_or_none()
    return None if row is None else (row[0], row[1])
