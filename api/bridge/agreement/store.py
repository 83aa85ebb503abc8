"""Odometer figures of many cars as columns, wherever they were written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import or_
from sqlalchemy import select as select_columns
from sqlmodel import col

from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

_AT_ONCE = 20_000


@dataclass
class Figures:
    """Figures off odometers, one entry each.

    Attributes:
        cars, days, values, miles: whose, when, what stood there, and whether in miles.
        special: cars with a figure that says more than itself: a new instrument, a counted rollover or dial.
    """

    cars: list[str] = field(default_factory=list)
    days: list[Any] = field(default_factory=list)
    values: list[float] = field(default_factory=list)
    miles: list[bool] = field(default_factory=list)
    special: set[str] = field(default_factory=set)


def figures(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> Figures:
    """Every figure of some cars on a day known exactly."""
    found = Figures()
    more = or_(
        col(OdometerReading.new_instrument),
        col(OdometerReading.rollovers).is_not(None),
        col(OdometerReading.dial_digits).is_not(None),
    )
    readings = select_columns(
        col(OdometerReading.vehicle_id),
        col(OdometerReading.read_on),
        col(OdometerReading.reading_value),
        col(OdometerReading.reading_unit) == "mi",
        more,
    ).where(col(OdometerReading.fleet_id) == fleet_id, col(OdometerReading.vehicle_id).in_(vehicle_ids))
    _gather(session, readings, found)
    for statement in _written_beside(fleet_id, vehicle_ids):
        _gather(session, statement, found)
    return found


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
        columns = (
            col(Fitment.vehicle_id),
            col(day),
            col(table.odometer_value),
            col(table.odometer_unit) == "mi",
        )
        wanted = select_columns(*columns).where(
            col(table.fleet_id) == fleet_id,
            col(Fitment.vehicle_id).in_(vehicle_ids),
            col(table.odometer_value).is_not(None),
        )
        if table is not Fitment:
            wanted = wanted.join(Fitment, col(Fitment.id) == col(table.fitment_id))
        statements.append(wanted if known is None else wanted.where(known))
    return statements


def _gather(session: Session, statement: Any, found: Figures) -> None:
    for rows in session.execute(statement, execution_options={"yield_per": _AT_ONCE}).partitions():
        cars, days, values, miles, *more = zip(*rows, strict=True)
        found.cars += cars
        found.days += days
        found.values += values
        found.miles += miles
        if more:
            found.special.update(car for car, special in zip(cars, more[0], strict=True) if special)
