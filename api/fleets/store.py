"""Queries for the fleet itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, select

from api.storage.tables import Fleet, LifeModel

if TYPE_CHECKING:
    from sqlmodel import Session


def fleet(session: Session, fleet_id: str) -> Fleet:
    """The fleet; its key has been found, so it is there."""
    return session.exec(select(Fleet).where(Fleet.id == fleet_id)).one()


def fleet_for_change(session: Session, fleet_id: str) -> Fleet:
    """The same, held until the transaction ends."""
    return session.exec(select(Fleet).where(Fleet.id == fleet_id).with_for_update()).one()


def kinds_with_a_life(session: Session, fleet_id: str) -> list[str]:
    """Kinds of which a life of this fleet is in force."""
    found = select(LifeModel.kind).where(
        LifeModel.fleet_id == fleet_id, LifeModel.circumstances == "", col(LifeModel.current).is_(True)
    )
    return sorted(session.exec(found))


def time_zone(session: Session, fleet_id: str) -> str:
    """The fleet's zone, an IANA name."""
    return session.exec(select(Fleet.time_zone).where(Fleet.id == fleet_id)).one()


def discount_rate(session: Session, fleet_id: str) -> float:
    """How much less a cost counts for the fleet for each year that it lies ahead."""
    return session.exec(select(Fleet.discount_rate).where(Fleet.id == fleet_id)).one()


def fleets_that_share(session: Session) -> list[str]:
    """Ids of the fleets that learn together with others."""
    return list(session.exec(select(Fleet.id).where(col(Fleet.pooling).is_(True)).order_by(col(Fleet.id))))
