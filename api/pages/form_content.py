"""What stands around a form's fields: the car and part that it is about, choices, and what is likely to be written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, get_args

from api.history.lookups import found_fitment
from api.pages.car_page import part_name
from api.pages.kind_page import by_family
from api.vehicles.service import found
from planner.catalogue import circumstances_of_cars, load_catalogue
from planner.history.evidence import Reason
from planner.history.records import Condition, Finding, IgnitionSystem, RepairAction

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Vehicle

AGAIN = (
    "Nothing has been stored yet: this form was from before you signed in. Look it over and send it again."
)
MENDABLE = frozenset({409, 422})
"""Statuses after which somebody can write something better; others are shown as pages of their own."""

_DATED = {
    "reading": "read_on",
    "inspection": "inspected_on",
    "repair": "repaired_on",
    "removal": "removed_on",
}
_DISTANCES = ("reading.unit", "odometer.unit", "donor.distance.unit", "cap.distance.unit")


@dataclass(frozen=True)
class Around:
    """A form's surroundings.

    Attributes:
        shown: for the template.
        defaults: what stands in the inputs at first.
    """

    shown: dict[str, Any]
    defaults: dict[str, str] = field(default_factory=dict)


def around(session: Session, who: Principal, form: str, place: str) -> Around:
    """Surroundings of a form.

    Args:
        session: any session.
        who: whose.
        form: its name.
        place: id of the car or the part; "" for a new car.

    Raises:
        NotFound: no such car or part in this fleet.
    """
    today = {} if form not in _DATED else {_DATED[form]: who.today().isoformat()}
    if form == "car":
        told = {
            "systems": get_args(IgnitionSystem),
            "circumstances": [(one.id, one.name) for one in circumstances_of_cars().values()],
        }
        return Around(told, {"distance_unit": "km", "joined_on": who.today().isoformat()})
    if form in ("reading", "fitment"):
        car = found(session, who.fleet_id, place)
        return Around(_of_car(car), {**today, **_units(car), "condition": "new"})
    fitment = found_fitment(session, who.fleet_id, place)
    car = found(session, who.fleet_id, fitment.vehicle_id)
    kind = load_catalogue()[fitment.kind]
    shown: dict[str, Any] = {
        "car": car,
        "fitment": fitment,
        "kind": kind,
        "name": part_name(kind.name_gb, fitment.position),
        "findings": get_args(Finding),
        "actions": get_args(RepairAction),
        "reasons": get_args(Reason),
    }
    return Around(shown, {**today, **_units(car), "changed_together": "1"})


def _of_car(car: Vehicle) -> dict[str, Any]:
    system: Any = car.system
    fitting = [kind for kind in load_catalogue().values() if kind.fits(system)]
    return {"car": car, "families": by_family(fitting), "conditions": get_args(Condition)}


def _units(car: Vehicle) -> dict[str, str]:
    return dict.fromkeys(_DISTANCES, car.distance_unit)
