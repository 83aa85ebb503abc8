"""Stored rows as answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.history.schemas import (
    FitmentOut,
    InspectionOut,
    OdometerReadingOut,
    RemovalOut,
    RepairOut,
)
from planner.units import from_km

if TYPE_CHECKING:
    from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair


def reading_out(row: OdometerReading) -> OdometerReadingOut:
    """A reading, with its true distance in the unit in which it was written."""
    unit: Any = row.reading_unit
    total = {"value": round(from_km(row.km_total, unit), 1), "unit": unit}
    reading = _distance(row.reading_value, unit)
    return OdometerReadingOut.model_validate({**row.model_dump(), "reading": reading, "total": total})


def fitment_out(row: Fitment) -> FitmentOut:
    """A fitment."""
    return FitmentOut.model_validate(
        {
            **row.model_dump(),
            "position": row.position or None,
            "odometer": _distance(row.odometer_value, row.odometer_unit),
            "donor": _both(_distance(row.donor_value, row.donor_unit), row.donor_years),
            "cap": _both(_distance(row.cap_value, row.cap_unit), row.cap_years),
        }
    )


def inspection_out(row: Inspection) -> InspectionOut:
    """An inspection."""
    measured = None
    if row.measurement_value is not None:
        measured = {
            "value": row.measurement_value,
            "unit": row.measurement_unit,
            "limit": row.measurement_limit,
        }
    return InspectionOut.model_validate({**_event(row), "measurement": measured})


def repair_out(row: Repair) -> RepairOut:
    """A repair."""
    return RepairOut.model_validate(_event(row))


def removal_out(row: Removal) -> RemovalOut:
    """A removal."""
    return RemovalOut.model_validate(_event(row))


def _event(row: Inspection | Repair | Removal) -> dict[str, Any]:
    return {**row.model_dump(), "odometer": _distance(row.odometer_value, row.odometer_unit)}


def _distance(value: float | None, unit: str | None) -> dict[str, Any] | None:
    return None if value is None or unit is None else {"value": value, "unit": unit}


def _both(distance: dict[str, Any] | None, years: float | None) -> dict[str, Any] | None:
    return None if distance is None and years is None else {"distance": distance, "years": years}
