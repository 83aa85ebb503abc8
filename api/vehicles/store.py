"""Queries for cars."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, func, select

from api.storage.tables import OdometerReading, Vehicle

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def vehicles_of(fleet_id: str) -> SelectOfScalar[Vehicle]:
    """All cars of one fleet, oldest entry first, for paging."""
    return (
        select(Vehicle).where(Vehicle.fleet_id == fleet_id).order_by(col(Vehicle.created_at), col(Vehicle.id))
    )


def vehicle(session: Session, fleet_id: str, vehicle_id: str) -> Vehicle | None:
    """One car of one fleet."""
    return session.exec(_one(fleet_id, vehicle_id)).one_or_none()


def vehicle_for_change(session: Session, fleet_id: str, vehicle_id: str) -> Vehicle | None:
    """One car of one fleet, held until the transaction ends: changes to one car's history take turns."""
    return session.exec(_one(fleet_id, vehicle_id).with_for_update()).one_or_none()


def first_read_on(session: Session, fleet_id: str, vehicle_id: str) -> date | None:
    """The day of a car's first odometer reading; None: it has none."""
    return session.exec(
        select(func.min(OdometerReading.read_on)).where(
            OdometerReading.fleet_id == fleet_id, OdometerReading.vehicle_id == vehicle_id
        )
    ).one()


def _one(fleet_id: str, vehicle_id: str) -> SelectOfScalar[Vehicle]:
    return select(Vehicle).where(Vehicle.fleet_id == fleet_id, Vehicle.id == vehicle_id)
