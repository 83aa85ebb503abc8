"""Cars whose odometer figures do not plainly rise, asked of the database itself, wherever the figures were written."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import case, func, literal, or_, union_all
from sqlalchemy import select as select_columns
from sqlmodel import col

from api.storage import dialect
from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair
from planner.history.dial import FURTHEST_DAY_KM, SLOPPY_DATES_KM
from planner.units import KM_PER_MILE

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import date

    from sqlmodel import Session


def not_plainly_rising(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> set[str]:
    """Cars of which the planner must say whether their figures agree.

    A figure falls from one day to the next, or rises further than any car goes, or says more than itself (a new
    instrument, a counted rollover or dial).

    Args:
        session: any session.
        fleet_id: whose.
        vehicle_ids: which cars.
    """
    beside = _cars_with_figures_beside(session, fleet_id, vehicle_ids)
    alone = set(vehicle_ids) - beside
    odd = _odd_steps(session, _readings(fleet_id, alone).subquery()) if alone else set()
    if beside:
        both = union_all(_readings(fleet_id, beside), *_written_beside(fleet_id, beside))
        odd |= _odd_steps(session, both.subquery())
    return odd


def with_figures(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> set[str]:
    """Those of some cars that have a reading, or a figure that stands beside another record."""
    read = _readings(fleet_id, vehicle_ids).subquery()
    stored = set(session.execute(select_columns(read.c.car).distinct()).scalars())
    return stored | _cars_with_figures_beside(session, fleet_id, vehicle_ids)


def plainly_rises(day: date, km: float, next_day: date, next_km: float) -> bool:
    """Whether a figure follows another as figures do; in doubt, the planner says.

    Args:
        day: of the figure before.
        km: the figure before.
        next_day: of the figure that follows.
        next_km: the figure that follows.
    """
    days = (next_day - day).days
    return days > 0 and 0 <= next_km - km <= SLOPPY_DATES_KM + FURTHEST_DAY_KM * days


def _odd_steps(session: Session, figures: Any) -> set[str]:
    """Cars with a step from one figure to the next that is not plain."""
    before = [
        func.lag(column).over(partition_by=figures.c.car, order_by=(figures.c.day, figures.c.km))
        for column in (figures.c.km, figures.c.day)
    ]
    steps = select_columns(
        figures.c.car,
        figures.c.more,
        (figures.c.km - before[0]).label("rise"),
        dialect.days_between(session, before[1], figures.c.day).label("days"),
    ).subquery()
    most = SLOPPY_DATES_KM + FURTHEST_DAY_KM * steps.c.days
    odd = or_(steps.c.more == 1, steps.c.rise < 0, steps.c.rise > most)
    return set(session.execute(select_columns(steps.c.car).where(odd).distinct()).scalars())


def _cars_with_figures_beside(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> set[str]:
    """Cars with a figure that stands beside a fitting, a look, a repair or a removal."""
    found: set[str] = set()
    for statement in _written_beside(fleet_id, vehicle_ids):
        figures = statement.subquery()
        found.update(session.execute(select_columns(figures.c.car).distinct()).scalars())
    return found


def _readings(fleet_id: str, vehicle_ids: Collection[str]) -> Any:
    """Readings: whose, when, true as far as each stands alone, whether it says more than itself."""
    reading = OdometerReading
    special = or_(
        col(reading.new_instrument),
        col(reading.rollovers).is_not(None),
        col(reading.dial_digits).is_not(None),
    )
    km = _km(col(reading.reading_value), col(reading.reading_unit))
    return select_columns(
        col(reading.vehicle_id).label("car"),
        col(reading.read_on).label("day"),
        km.label("km"),
        case((special, 1), else_=0).label("more"),
    ).where(col(reading.fleet_id) == fleet_id, col(reading.vehicle_id).in_(vehicle_ids))


def _written_beside(fleet_id: str, vehicle_ids: Collection[str]) -> list[Any]:
    """Figures that stand beside fittings, looks, repairs and removals."""
    exact = col(Fitment.fitted_earliest) == col(Fitment.fitted_latest)
    days: list[tuple[Any, Any, Any]] = [
        (Fitment, Fitment.fitted_earliest, exact),
        (Inspection, Inspection.inspected_on, None),
        (Repair, Repair.repaired_on, None),
        (Removal, Removal.removed_earliest, col(Removal.removed_earliest) == col(Removal.removed_latest)),
    ]
    statements = []
    for table, day, known in days:
        km = _km(col(table.odometer_value), col(table.odometer_unit))
        wanted = select_columns(
            col(Fitment.vehicle_id).label("car"),
            col(day).label("day"),
            km.label("km"),
            literal(0).label("more"),
        ).where(
            col(table.fleet_id) == fleet_id,
            col(Fitment.vehicle_id).in_(vehicle_ids),
            col(table.odometer_value).is_not(None),
        )
        if table is not Fitment:
            wanted = wanted.join(Fitment, col(Fitment.id) == col(table.fitment_id))
        statements.append(wanted if known is None else wanted.where(known))
    return statements


def _km(value: Any, unit: Any) -> Any:
    return case((unit == "mi", value * KM_PER_MILE), else_=value)
