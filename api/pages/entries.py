"""The forms that there are, and what each of them stores: by the same services as the JSON."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from api.history import schemas as history
from api.history import service
from api.pages.form_content import Around
from api.pages.forms import Form
from api.vehicles import service as vehicles
from api.vehicles.schemas import VehicleCreate

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.security import Principal

Store = Callable[["Session", "Principal", str, Any], str]
"""Called with session, principal, the id in the address, and the body; gives the address to go to afterwards."""


Look = Callable[["Session", "Principal", str, Mapping[str, str]], Around]
"""Called with session, principal, the id in the address, and the fields so far; gives what stands around the form."""


@dataclass(frozen=True)
class Entry:
    """A form and what it stores.

    Attributes:
        form: its fields.
        store: what storing it does.
        look: what stands around it; None: as `form_content.around` knows it by the form's name.
    """

    form: Form[Any]
    store: Store
    look: Look | None = None


def _distance(name: str) -> tuple[str, str]:
    return f"{name}.value", f"{name}.unit"


_ODOMETER = _distance("odometer")


def _car(session: Session, who: Principal, _place: str, body: VehicleCreate) -> str:
    return f"/pages/cars/{vehicles.register(session, who, body).id}?noted=car"


def _reading(session: Session, who: Principal, vehicle_id: str, body: history.OdometerReadingCreate) -> str:
    service.add_reading(session, who, vehicle_id, body)
    return f"/pages/cars/{vehicle_id}?noted=reading"


def _fitment(session: Session, who: Principal, vehicle_id: str, body: history.FitmentCreate) -> str:
    row = service.add_fitment(session, who, vehicle_id, body)
    return f"/pages/cars/{vehicle_id}?noted=fitment&part={row.id}"


def _inspection(session: Session, who: Principal, fitment_id: str, body: history.InspectionCreate) -> str:
    service.add_inspection(session, who, fitment_id, body)
    return f"/pages/parts/{fitment_id}?noted=inspection"


def _repair(session: Session, who: Principal, fitment_id: str, body: history.RepairCreate) -> str:
    service.add_repair(session, who, fitment_id, body)
    return f"/pages/parts/{fitment_id}?noted=repair"


def _removal(session: Session, who: Principal, fitment_id: str, body: history.RemovalCreate) -> str:
    service.add_removal(session, who, fitment_id, body)
    return f"/pages/parts/{fitment_id}?noted=removal"


CAR = Entry(
    Form(
        "car",
        VehicleCreate,
        (
            "name",
            "make",
            "model",
            "built",
            "chassis_number",
            "system",
            "distance_unit",
            "storage",
            "joined_on",
            "notes",
        ),
        many=frozenset({"circumstances"}),
    ),
    _car,
)
OF_CAR = {
    "reading": Entry(
        Form(
            "reading",
            history.OdometerReadingCreate,
            ("read_on", *_distance("reading"), "dial_digits", "rollovers", "new_instrument", "source"),
            yes_no=frozenset({"new_instrument"}),
            numbers=frozenset({"reading.value", "dial_digits", "rollovers"}),
        ),
        _reading,
    ),
    "fitment": Entry(
        Form(
            "fitment",
            history.FitmentCreate,
            ("kind", "position", "fitted_on", *_ODOMETER, "condition", *_distance("donor.distance"), "donor.years",
             "grade", "made_on", *_distance("cap.distance"), "cap.years", "note"),
            numbers=frozenset(
                {"odometer.value", "donor.distance.value", "donor.years", "cap.distance.value", "cap.years"}
            ),
        ),
        _fitment,
    ),
}  # fmt: skip
OF_PART = {
    "inspection": Entry(
        Form(
            "inspection",
            history.InspectionCreate,
            (
                "inspected_on",
                *_ODOMETER,
                "finding",
                "measurement.value",
                "measurement.unit",
                "measurement.limit",
                "note",
            ),
            numbers=frozenset({"odometer.value", "measurement.value", "measurement.limit"}),
        ),
        _inspection,
    ),
    "repair": Entry(
        Form(
            "repair",
            history.RepairCreate,
            ("repaired_on", *_ODOMETER, "action", "note"),
            numbers=frozenset({"odometer.value"}),
        ),
        _repair,
    ),
    "removal": Entry(
        Form(
            "removal",
            history.RemovalCreate,
            ("removed_on", *_ODOMETER, "reason", "cured", "changed_together", "note"),
            yes_no=frozenset({"cured"}),
            numbers=frozenset({"odometer.value", "changed_together"}),
        ),
        _removal,
    ),
}
