"""Queries for rules of kinds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, select

from api.storage.tables import KindRule, VehicleUsage

if TYPE_CHECKING:
    from sqlmodel import Session


def rule(session: Session, fleet_id: str, kind: str) -> KindRule | None:
    """The rule of a kind as last worked out."""
    found = select(KindRule).where(KindRule.fleet_id == fleet_id, KindRule.kind == kind)
    return session.exec(found).one_or_none()


def yearly_distances(session: Session, fleet_id: str) -> list[float]:
    """Yearly distances of the cars whose odometer was read, ascending, km."""
    found = select(VehicleUsage.km_per_year).where(
        VehicleUsage.fleet_id == fleet_id, col(VehicleUsage.km_at_as_of).is_not(None)
    )
    return sorted(session.exec(found))
