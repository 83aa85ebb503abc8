"""Queries for notices: parts due soon that were not told yet, parts told that are due no longer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import delete, insert, literal, or_
from sqlalchemy import select as select_columns
from sqlmodel import col, select

from api.storage.tables import DueSoonTold, Fitment, Forecast, Vehicle
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from sqlmodel import Session


class Dates(NamedTuple):
    """What a schedule says about one part."""

    earliest: date | None
    likely: date | None
    latest: date | None
    decides: str


Standing = dict[tuple[str, str], Dates]
"""Dates by car and fitment."""


class Due(NamedTuple):
    """A part that is due soon and was not told yet."""

    forecast: Forecast
    fitment: Fitment
    vehicle: Vehicle


class Told(NamedTuple):
    """A part that was told as due soon and is no longer; its forecast, where it has one still."""

    row: DueSoonTold
    forecast: Forecast | None


def entered(
    session: Session, fleet_id: str, last: date, vehicle_ids: Collection[str] | None, most: int
) -> list[Due]:
    """Parts whose likely day comes up to a day and that were not told yet.

    Args:
        session: any session.
        fleet_id: whose.
        last: the last day.
        vehicle_ids: only of these cars; None: of all.
        most: at most so many.
    """
    found = (
        select(Forecast, Fitment, Vehicle)
        .join(Fitment, col(Fitment.id) == col(Forecast.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Forecast.vehicle_id))
        .outerjoin(DueSoonTold, col(DueSoonTold.id) == col(Forecast.fitment_id))
        .where(Forecast.fleet_id == fleet_id, col(Forecast.due_likely) <= last)
        .where(col(DueSoonTold.id).is_(None))
    )
    if vehicle_ids is not None:
        found = found.where(col(Forecast.vehicle_id).in_(vehicle_ids))
    return [Due(*row) for row in session.exec(found.order_by(col(Forecast.id)).limit(most))]


def left(
    session: Session, fleet_id: str, last: date, vehicle_ids: Collection[str] | None, most: int
) -> list[Told]:
    """Parts that were told and whose likely day comes later now, never, or that are gone; arguments as `entered`."""
    found = (
        select(DueSoonTold, Forecast)
        .outerjoin(Forecast, col(Forecast.fitment_id) == col(DueSoonTold.id))
        .where(DueSoonTold.fleet_id == fleet_id)
        .where(or_(col(Forecast.due_likely).is_(None), col(Forecast.due_likely) > last))
    )
    if vehicle_ids is not None:
        found = found.where(col(DueSoonTold.vehicle_id).in_(vehicle_ids))
    return [Told(*row) for row in session.exec(found.order_by(col(DueSoonTold.id)).limit(most))]


def note_told(session: Session, parts: Collection[Due]) -> None:
    """Keep that parts were told as due soon."""
    for forecast, fitment, vehicle in parts:
        if forecast.due_likely is None:
            continue
        session.add(
            DueSoonTold(
                id=fitment.id,
                fleet_id=fitment.fleet_id,
                vehicle_id=vehicle.id,
                vehicle_name=vehicle.name,
                vehicle_external_ref=vehicle.external_ref,
                fitment_external_ref=fitment.external_ref,
                kind=fitment.kind,
                position=fitment.position,
                due_likely=forecast.due_likely,
            )
        )
    session.flush()


def note_left(session: Session, parts: Collection[Told]) -> None:
    """Keep that parts were told as no longer due soon."""
    for part in parts:
        session.delete(part.row)
    session.flush()


def take_as_told(session: Session, fleet_id: str, last: date) -> None:
    """Take whatever is due up to a day as told, and nothing else."""
    session.execute(delete(DueSoonTold).where(col(DueSoonTold.fleet_id) == fleet_id))
    now = utc_now()
    columns: dict[str, Any] = {
        "id": col(Fitment.id),
        "version": literal(1),
        "created_at": literal(now, type_=_table().c.created_at.type),
        "updated_at": literal(now, type_=_table().c.updated_at.type),
        "fleet_id": col(Forecast.fleet_id),
        "vehicle_id": col(Vehicle.id),
        "vehicle_name": col(Vehicle.name),
        "vehicle_external_ref": col(Vehicle.external_ref),
        "fitment_external_ref": col(Fitment.external_ref),
        "kind": col(Fitment.kind),
        "position": col(Fitment.position),
        "due_likely": col(Forecast.due_likely),
    }
    due = (
        select_columns(*columns.values())
        .select_from(Forecast)
        .join(Fitment, col(Fitment.id) == col(Forecast.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Forecast.vehicle_id))
        .where(col(Forecast.fleet_id) == fleet_id, col(Forecast.due_likely) <= last)
    )
    session.execute(insert(_table()).from_select(list(columns), due))


def dates(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> Standing:
    """What the schedules of cars say, by car and fitment."""
    found = select_columns(
        col(Forecast.vehicle_id),
        col(Forecast.fitment_id),
        col(Forecast.due_earliest),
        col(Forecast.due_likely),
        col(Forecast.due_latest),
        col(Forecast.decides),
    ).where(col(Forecast.fleet_id) == fleet_id, col(Forecast.vehicle_id).in_(vehicle_ids))
    return {(car, part): Dates(*said) for car, part, *said in session.execute(found)}


def _table() -> Any:
    return DueSoonTold.__table__  # type: ignore[attr-defined]  # SQLModel sets it on table classes
