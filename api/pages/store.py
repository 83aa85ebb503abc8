"""Queries that only the pages need: how much comes due, day by day and car by car."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import case
from sqlmodel import col, func, select

from api.storage.tables import Forecast, PutOff, Vehicle
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session


def due_by_day(session: Session, fleet_id: str, last: date) -> list[tuple[date, int]]:
    """(likely day, number of parts) for the days up to one; the index narrows it to what is due by then."""
    likely: Any = Forecast.due_likely  # never null here, by the condition below
    found = (
        select(likely, func.count())
        .where(
            Forecast.fleet_id == fleet_id,
            col(Forecast.due_earliest) <= last,
            col(Forecast.due_likely) <= last,
        )
        .group_by(likely)
        .order_by(likely)
    )
    return [(when, count) for when, count in session.exec(found)]


class CarWithWork(NamedTuple):
    """A car, how many of its parts are due, and how many of those are safety parts."""

    vehicle_id: str
    name: str
    due: int
    safety: int


def due_by_car(session: Session, fleet_id: str, as_of: date, most: int) -> list[CarWithWork]:
    """Cars with parts whose likely day has come: those with most safety parts among them first."""
    kinds = [name for name, kind in load_catalogue().items() if kind.safety]
    safety: Any = func.sum(case((col(Forecast.kind).in_(kinds), 1), else_=0))
    due: Any = func.count()
    found = (
        select(Vehicle.id, Vehicle.name, due, safety)
        .join(Forecast, col(Forecast.vehicle_id) == col(Vehicle.id))
        .where(Forecast.fleet_id == fleet_id, col(Forecast.due_likely) <= as_of)
        .group_by(col(Vehicle.id), col(Vehicle.name))
        .order_by(safety.desc(), due.desc(), col(Vehicle.id))
        .limit(most)
    )
    return [CarWithWork(*row) for row in session.exec(found)]


def decided(session: Session, fleet_id: str, as_of: date) -> int:
    """How many parts whose likely day has come were put off or declined."""
    found = (
        select(func.count())
        .select_from(PutOff)
        .join(Forecast, col(Forecast.fitment_id) == col(PutOff.fitment_id))
        .where(PutOff.fleet_id == fleet_id, col(Forecast.due_likely) <= as_of)
    )
    return session.exec(found).one()
