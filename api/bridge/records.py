"""Rows into the planner's history records, one function for each table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from planner.errors import RecordError
from planner.history import records
from planner.history.dates import UncertainDate
from planner.units import to_km
from planner.usage import PlannedUse

if TYPE_CHECKING:
    from datetime import date

    from api.storage import tables


def reading_record(row: tables.OdometerReading) -> records.OdometerReading:
    """A look at the odometer.

    Raises:
        RecordError: naming the field at fault; so do the other functions of this file.
    """
    return records.OdometerReading(
        read_on=row.read_on,
        reading=distance(row.reading_value, row.reading_unit, "reading"),
        dial_digits=row.dial_digits,
        rollovers=row.rollovers,
        new_instrument=row.new_instrument,
    )


def vehicle_record(row: tables.Vehicle) -> records.Vehicle:
    """A car."""
    return records.Vehicle(
        ref=row.id,
        name=row.name,
        built=row.built,
        joined_on=row.joined_on,
        chassis_number=row.chassis_number,
        system=row.system,
        distance_unit=row.distance_unit,
        storage=row.storage,
    )


def fitment_record(row: tables.Fitment) -> records.Fitment:
    """One part in one position."""
    return records.Fitment(
        ref=row.id,
        kind=row.kind,
        position=row.position or None,
        fitted_on=row.fitted_on,
        odometer=distance(row.odometer_value, row.odometer_unit),
        condition=row.condition,
        donor_km=km_of(row.donor_value, row.donor_unit),
        donor_years=row.donor_years,
        grade=row.grade,
        made_on=row.made_on,
        original_chance=row.original_chance,
        cap_km=km_of(row.cap_value, row.cap_unit),
        cap_years=row.cap_years,
    )


def inspection_record(row: tables.Inspection) -> records.Inspection:
    """Somebody looked at the part."""
    measured = row.measurement_value is not None and row.measurement_unit is not None
    return records.Inspection(
        inspected_on=row.inspected_on,
        odometer=distance(row.odometer_value, row.odometer_unit),
        finding=row.finding,
        measurement=records.Measurement(
            value=row.measurement_value, unit=row.measurement_unit, limit=row.measurement_limit
        )
        if measured
        else None,
    )


def repair_record(row: tables.Repair) -> records.Repair:
    """Work that left the part in place."""
    return records.Repair(
        repaired_on=row.repaired_on,
        odometer=distance(row.odometer_value, row.odometer_unit),
        action=row.action,
    )


def removal_record(row: tables.Removal) -> records.Removal:
    """The part came off."""
    return records.Removal(
        removed_on=row.removed_on,
        odometer=distance(row.odometer_value, row.odometer_unit),
        reason=row.reason,
        cured=row.cured,
        changed_together=row.changed_together,
        shared_event=row.shared_event,
        complaint_fit=row.complaint_fit,
    )


def planned_record(row: tables.PlannedUse) -> PlannedUse:
    """A tour, or a lay-up without distance."""
    km = km_of(row.distance_value, row.distance_unit)
    return PlannedUse(row.starts_on, row.ends_on, 0.0 if km is None else km)


def shown_on(day: date | UncertainDate, odometer: records.Distance | None) -> list[records.OdometerReading]:
    """A figure taken off the dial on an exact day, as a reading; nothing where day or figure is missing."""
    if odometer is None or (isinstance(day, UncertainDate) and not day.exact):
        return []
    read_on = day.earliest if isinstance(day, UncertainDate) else day
    return [records.OdometerReading(read_on=read_on, reading=odometer)]


def distance(value: float | None, unit: Any, field: str = "odometer") -> records.Distance | None:
    """A pair of columns as a distance.

    Raises:
        RecordError: naming ``field`` and the part of it that is wrong.
    """
    if value is None or unit is None:
        return None
    try:
        return records.Distance(value=value, unit=unit)
    except RecordError as error:
        raise RecordError(f"{field}.{error.field}", error.wanted, value) from error


def km_of(value: float | None, unit: Any) -> float | None:
    """A pair of columns in kilometres."""
    return None if value is None or unit is None else to_km(value, unit)
