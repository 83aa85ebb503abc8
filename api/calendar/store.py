"""Queries for calendar addresses, and for parts that left a car lately."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, func, select

from api.storage.tables import CalendarAddress, FaultFinding, Fitment, Fleet, PutOff, Removal, Vehicle

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date, datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def addresses_of(fleet_id: str) -> SelectOfScalar[CalendarAddress]:
    """All addresses of one fleet, oldest first, for paging."""
    found = select(CalendarAddress).where(CalendarAddress.fleet_id == fleet_id)
    return found.order_by(col(CalendarAddress.created_at), col(CalendarAddress.id))


def address(session: Session, fleet_id: str, calendar_id: str) -> CalendarAddress | None:
    """One address of one fleet."""
    found = select(CalendarAddress).where(
        CalendarAddress.fleet_id == fleet_id, CalendarAddress.id == calendar_id
    )
    return session.exec(found).one_or_none()


def opened_by(session: Session, hashed: str) -> tuple[CalendarAddress, Fleet] | None:
    """The address whose secret has this hash, and its fleet."""
    found = select(CalendarAddress, Fleet).join(Fleet, col(Fleet.id) == col(CalendarAddress.fleet_id))
    row = session.exec(found.where(CalendarAddress.hash == hashed)).one_or_none()
    return None if row is None else (row[0], row[1])


def fitments(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, Fitment]:
    """Fitments by their ids."""
    found = select(Fitment).where(Fitment.fleet_id == fleet_id, col(Fitment.id).in_(ids))
    return {row.id: row for row in session.exec(found)}


def decisions(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, PutOff]:
    """Decisions to put work off, by fitment."""
    found = select(PutOff).where(PutOff.fleet_id == fleet_id, col(PutOff.fitment_id).in_(ids))
    return {row.fitment_id: row for row in session.exec(found)}


def cases_changed(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> dict[str, datetime]:
    """When a fault-finding of each car changed last, open or closed: it may forbid driving, or do so no longer."""
    found = (
        select(FaultFinding.vehicle_id, func.max(FaultFinding.updated_at))
        .where(FaultFinding.fleet_id == fleet_id, col(FaultFinding.vehicle_id).in_(vehicle_ids))
        .group_by(col(FaultFinding.vehicle_id))
    )
    return dict(session.exec(found).all())


def removed_since(
    session: Session, fleet_id: str, first: date, vehicle_id: str | None, most: int
) -> list[tuple[Removal, Fitment, Vehicle]]:
    """Parts taken off from a day on, the latest first, with their cars."""
    found = (
        select(Removal, Fitment, Vehicle)
        .join(Fitment, col(Fitment.id) == col(Removal.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Fitment.vehicle_id))
        .where(Removal.fleet_id == fleet_id, col(Removal.removed_likely) >= first)
        .order_by(col(Removal.removed_likely).desc(), col(Removal.id))
        .limit(most)
    )
    if vehicle_id is not None:
        found = found.where(Fitment.vehicle_id == vehicle_id)
    return [(removal, fitment, vehicle) for removal, fitment, vehicle in session.exec(found)]
