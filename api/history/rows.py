"""Bodies as rows: what a caller wrote down of a part, with the columns that stand beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.storage.tables import Fitment, Inspection, Removal, Repair
from planner.history.dates import UncertainDate

if TYPE_CHECKING:
    from api.history import schemas
    from api.schemas import DistanceIn


def fitment_row(fleet_id: str, vehicle_id: str, body: schemas.FitmentCreate) -> Fitment:
    """A fitment.

    Raises:
        RecordError: a day that is none.
    """
    columns = body.model_dump(exclude={"odometer", "donor", "cap", "position"}) | odometer(body.odometer)
    columns["position"] = body.position or ""
    if body.fitted_on is not None:
        columns |= days("fitted", UncertainDate.parse(body.fitted_on, field="fitted_on"))
    for name, given in (("donor", body.donor), ("cap", body.cap)):
        if given is not None:
            columns[f"{name}_years"] = given.years
        if given is not None and given.distance is not None:
            columns |= {f"{name}_value": given.distance.value, f"{name}_unit": given.distance.unit}
    return Fitment(fleet_id=fleet_id, vehicle_id=vehicle_id, **columns)


def inspection_row(fleet_id: str, fitment_id: str, body: schemas.InspectionCreate) -> Inspection:
    """An inspection."""
    measured = body.measurement
    return Inspection(
        fleet_id=fleet_id,
        fitment_id=fitment_id,
        measurement_value=None if measured is None else measured.value,
        measurement_unit=None if measured is None else measured.unit,
        measurement_limit=None if measured is None else measured.limit,
        **odometer(body.odometer),
        **body.model_dump(exclude={"odometer", "measurement"}),
    )


def repair_row(fleet_id: str, fitment_id: str, body: schemas.RepairCreate) -> Repair:
    """A repair."""
    return Repair(
        fleet_id=fleet_id,
        fitment_id=fitment_id,
        **odometer(body.odometer),
        **body.model_dump(exclude={"odometer"}),
    )


def removal_row(fleet_id: str, fitment_id: str, body: schemas.RemovalCreate) -> Removal:
    """A removal.

    Raises:
        RecordError: a day that is none.
    """
    return Removal(
        fleet_id=fleet_id,
        fitment_id=fitment_id,
        **days("removed", UncertainDate.parse(body.removed_on, field="removed_on")),
        **odometer(body.odometer),
        **body.model_dump(exclude={"odometer"}),
    )


def days(event: str, day: UncertainDate) -> dict[str, Any]:
    """The columns of the days that an uncertain one stands for: "fitted_earliest" and so on."""
    return {f"{event}_{end}": getattr(day, end) for end in ("earliest", "likely", "latest")}


def odometer(shown: DistanceIn | None) -> dict[str, Any]:
    """The columns of what the dial showed."""
    return {} if shown is None else {"odometer_value": shown.value, "odometer_unit": shown.unit}
