"""Queries for digests: ranges of what is due and of what was done, never the whole fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlmodel import col, func, select

from api.schedules.store import due_until
from api.storage.tables import (
    Digest,
    Fitment,
    Forecast,
    OdometerReading,
    PutOff,
    Removal,
    Repair,
    Vehicle,
)

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def digests_of(fleet_id: str) -> SelectOfScalar[Digest]:
    """All digests of one fleet, latest week first, for paging."""
    return select(Digest).where(Digest.fleet_id == fleet_id).order_by(col(Digest.week).desc(), col(Digest.id))


def digest(session: Session, fleet_id: str, week: str) -> Digest | None:
    """One week's digest."""
    found = select(Digest).where(Digest.fleet_id == fleet_id, Digest.week == week)
    return session.exec(found).one_or_none()


def due(
    session: Session, fleet_id: str, after: date | None, last: date, most: int
) -> tuple[dict[str, int], list[Forecast]]:
    """How many parts of each kind have their likely day after one day (None: any) and up to another; the first of them."""
    chosen = due_until(fleet_id, last)
    if after is not None:
        chosen = chosen.where(col(Forecast.due_likely) > after)
    every = chosen.order_by(None).subquery()
    counts = session.exec(select(every.c.kind, func.count()).group_by(every.c.kind))
    return dict(counts.all()), list(session.exec(chosen.limit(most)))


def due_by_day(session: Session, fleet_id: str, last: date) -> list[tuple[date, int]]:
    """(likely day, number of parts) for the days up to one."""
    likely: Any = Forecast.due_likely  # never null here, by the condition below
    found = (
        select(likely, func.count())
        .where(Forecast.fleet_id == fleet_id, col(Forecast.due_likely) <= last)
        .group_by(likely)
        .order_by(likely)
    )
    return [(when, count) for when, count in session.exec(found)]


def wanted(session: Session, fleet_id: str, last: date) -> list[tuple[str, int, date]]:
    """(kind, number of parts, first likely day) of what is planned up to a day; what was put off stands in `put_off`."""
    first_day: Any = func.min(Forecast.due_likely)  # never null here, by the condition below
    found = (
        select(Forecast.kind, func.count(), first_day)
        .outerjoin(PutOff, col(PutOff.fitment_id) == col(Forecast.fitment_id))
        .where(Forecast.fleet_id == fleet_id, col(Forecast.due_likely) <= last, col(PutOff.id).is_(None))
        .group_by(Forecast.kind)
    )
    return [(kind, count, first) for kind, count, first in session.exec(found)]


def put_off(session: Session, fleet_id: str, last: date) -> list[Forecast]:
    """Forecasts of the parts with a likely day up to a day that somebody has put off or declined."""
    chosen = due_until(fleet_id, last).join(PutOff, col(PutOff.fitment_id) == col(Forecast.fitment_id))
    return list(session.exec(chosen))


def forecasts(session: Session, fleet_id: str, fitment_ids: Collection[str]) -> list[Forecast]:
    """Forecasts of these parts."""
    found = select(Forecast).where(Forecast.fleet_id == fleet_id, col(Forecast.fitment_id).in_(fitment_ids))
    return list(session.exec(found.order_by(col(Forecast.id))))


def removed(
    session: Session, fleet_id: str, after: date, last: date, most: int
) -> list[tuple[Removal, Fitment, Vehicle]]:
    """Parts that came off after one day and up to another."""
    found = (
        select(Removal, Fitment, Vehicle)
        .join(Fitment, col(Fitment.id) == col(Removal.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Fitment.vehicle_id))
        .where(
            Removal.fleet_id == fleet_id,
            col(Removal.removed_likely) > after,
            col(Removal.removed_likely) <= last,
        )
        .order_by(col(Removal.removed_likely), col(Removal.id))
        .limit(most)
    )
    return [(one, fitment, vehicle) for one, fitment, vehicle in session.exec(found)]


def repaired(
    session: Session, fleet_id: str, after: date, last: date, most: int
) -> list[tuple[Repair, Fitment, Vehicle]]:
    """Parts that were worked on after one day and up to another."""
    found = (
        select(Repair, Fitment, Vehicle)
        .join(Fitment, col(Fitment.id) == col(Repair.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Fitment.vehicle_id))
        .where(Repair.fleet_id == fleet_id, col(Repair.repaired_on) > after, col(Repair.repaired_on) <= last)
        .order_by(col(Repair.repaired_on), col(Repair.id))
        .limit(most)
    )
    return [(one, fitment, vehicle) for one, fitment, vehicle in session.exec(found)]


def decisions(session: Session, fleet_id: str, most: int) -> list[tuple[PutOff, Fitment, Vehicle]]:
    """Decisions that stand about parts in service, the latest first."""
    found = (
        select(PutOff, Fitment, Vehicle)
        .join(Fitment, col(Fitment.id) == col(PutOff.fitment_id))
        .join(Vehicle, col(Vehicle.id) == col(Fitment.vehicle_id))
        .where(PutOff.fleet_id == fleet_id, col(Fitment.in_service).is_(True))
        .order_by(col(PutOff.decided_on).desc(), col(PutOff.id))
        .limit(most)
    )
    return [(one, fitment, vehicle) for one, fitment, vehicle in session.exec(found)]


def some_vehicles(session: Session, fleet_id: str, most: int) -> list[Vehicle]:
    """The fleet's first cars."""
    found = select(Vehicle).where(Vehicle.fleet_id == fleet_id)
    return list(session.exec(found.order_by(col(Vehicle.created_at), col(Vehicle.id)).limit(most)))


def count_vehicles(session: Session, fleet_id: str) -> int:
    """How many cars the fleet has, counted in the index."""
    found = select(func.count()).select_from(Vehicle).where(Vehicle.fleet_id == fleet_id)
    return session.exec(found).one()


def last_readings(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, date]:
    """The day of each car's latest odometer reading, by car."""
    found = (
        select(OdometerReading.vehicle_id, func.max(OdometerReading.read_on))
        .where(OdometerReading.fleet_id == fleet_id, col(OdometerReading.vehicle_id).in_(ids))
        .group_by(col(OdometerReading.vehicle_id))
    )
    return dict(session.exec(found).all())
