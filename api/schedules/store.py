"""Queries for forecasts: indexed range reads, whatever the size of the fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import CursorResult, Date, type_coerce, update
from sqlalchemy import select as select_columns
from sqlmodel import col, or_, select

from api.storage.tables import Fitment, Fleet, Forecast, Vehicle, VehicleUsage

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def due_until(fleet_id: str, last: date, vehicle_id: str | None = None) -> SelectOfScalar[Forecast]:
    """Forecasts whose likely day comes up to a day, the earliest first, for paging.

    Args:
        fleet_id: whose.
        last: the last day.
        vehicle_id: only of this car.
    """
    found = select(Forecast).where(Forecast.fleet_id == fleet_id, col(Forecast.due_likely) <= last)
    if vehicle_id is not None:
        found = found.where(Forecast.vehicle_id == vehicle_id)
    never_null = type_coerce(
        col(Forecast.due_likely), Date
    )  # by the condition above, which the pager cannot see
    return found.order_by(never_null, col(Forecast.id))


def of_vehicle(session: Session, fleet_id: str, vehicle_id: str, last: date) -> list[Forecast]:
    """One car's forecasts: windows that open up to a day by their likely day, then parts run to failure."""
    rows = session.exec(
        select(Forecast).where(
            Forecast.fleet_id == fleet_id,
            Forecast.vehicle_id == vehicle_id,
            or_(col(Forecast.due_earliest) <= last, col(Forecast.run_to_failure).is_(True)),
        )
    )
    return sorted(rows, key=lambda row: (row.due_likely is None, row.due_likely or last, row.kind, row.id))


def all_of_vehicle(session: Session, fleet_id: str, vehicle_id: str) -> list[Forecast]:
    """Every forecast of one car."""
    found = select(Forecast).where(Forecast.fleet_id == fleet_id, Forecast.vehicle_id == vehicle_id)
    return list(session.exec(found.order_by(col(Forecast.id))))


def vehicles(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, Vehicle]:
    """Cars by their ids."""
    found = select(Vehicle).where(Vehicle.fleet_id == fleet_id, col(Vehicle.id).in_(ids))
    return {row.id: row for row in session.exec(found)}


def positions(session: Session, fleet_id: str, fitment_ids: Collection[str]) -> dict[str, str]:
    """Positions of fitments by their ids."""
    found = select(Fitment.id, Fitment.position).where(
        Fitment.fleet_id == fleet_id, col(Fitment.id).in_(fitment_ids)
    )
    return dict(session.exec(found).all())


def usage(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, VehicleUsage]:
    """How much each car is driven, by car."""
    found = select(VehicleUsage).where(
        VehicleUsage.fleet_id == fleet_id, col(VehicleUsage.vehicle_id).in_(ids)
    )
    return {row.vehicle_id: row for row in session.exec(found)}


def fleet_days(session: Session) -> list[tuple[str, str, date | None]]:
    """Every fleet's id, zone and the latest day that its dates were queued for, for the clock."""
    found = select_columns(col(Fleet.id), col(Fleet.time_zone), col(Fleet.dated_on)).order_by(col(Fleet.id))
    return [(fleet_id, zone, day) for fleet_id, zone, day in session.execute(found)]


def claim_day(session: Session, fleet_id: str, day: date) -> bool:
    """Mark a day as begun; of several claimants one gets True."""
    statement = (
        update(Fleet)
        .where(col(Fleet.id) == fleet_id)
        .where(or_(col(Fleet.dated_on).is_(None), col(Fleet.dated_on) < day))
        .values(dated_on=day, version=Fleet.version + 1)
        .execution_options(synchronize_session=False)
    )
    return cast("CursorResult[Any]", session.execute(statement)).rowcount == 1
