"""The forms of a fault case: opening it, a check's result, a renewal, closing it; stored by the service of the JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.faults import case, closing, service, shelf, steps
from api.faults.answers import part_name
from api.faults.schemas import ClosingCreate, FaultFindingCreate, StepCreate, StepTakenBack
from api.pages.entries import Entry
from api.pages.form_content import Around
from api.pages.forms import Form
from api.problems import Conflict, NotFound
from api.vehicles.service import found
from planner.catalogue import load_conditions

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import FaultFinding

Words = list[tuple[str, str]]
"""(value, what somebody reads) for choices."""

_ODOMETER = ("odometer.value", "odometer.unit")
_NUMBERS = frozenset({"odometer.value", "fault_present"})
THERE = (
    ("1", "always"),
    ("0.7", "mostly"),
    ("0.4", "now and then"),
    ("0.15", "seldom"),
)
"""How often the fault shows, as the chance that it does while somebody looks; common practice, no source."""


def _open(session: Session, who: Principal, vehicle_id: str, body: FaultFindingCreate) -> str:
    return f"/pages/faults/{service.open_finding(session, who, vehicle_id, body).id}?noted=opened"


def _step(session: Session, who: Principal, finding_id: str, body: StepCreate) -> str:
    return f"/pages/faults/{steps.add_step(session, who, finding_id, body).id}?noted=step"


def _close(session: Session, who: Principal, finding_id: str, body: ClosingCreate) -> str:
    return f"/pages/faults/{closing.close(session, who, finding_id, body).id}?noted=closed"


def _take_back(session: Session, who: Principal, finding_id: str, body: StepTakenBack) -> str:
    row = service.held_open(session, who, finding_id)
    if body.number != len(row.steps):
        raise Conflict("the case has moved on since this page was shown: look at it again", field="number")
    steps.take_back_last(session, row)
    return f"/pages/faults/{row.id}?noted=back"


def _around_opening(session: Session, who: Principal, place: str, _fields: Mapping[str, str]) -> Around:
    car = found(session, who.fleet_id, place)
    known = shelf.complaints(session, who.fleet_id)
    shown = {
        "car": car,
        "complaints": [
            (title, [(one.thing.id, one.thing.title) for one in known if one.own is wanted])
            for title, wanted in (("Your own", True), ("The book’s", False))
        ],
        "when": [(name, one.name) for name, one in load_conditions().items()],
        "there": THERE,
    }
    return Around(shown, {"noted_on": who.today().isoformat(), "fault_present": "1"})


def _around_check(session: Session, who: Principal, place: str, fields: Mapping[str, str]) -> Around:
    row = service.found(session, who, place)
    asked = fields.get("check", "")
    check = next((one for one in case.question(session, row).checks if one.id == asked), None)
    if check is None:
        raise NotFound("no such check for this case: choose one on the case's page")
    apart = len(check.readings) > 1 and not check.one_result
    looks_at = _parts(row, [reading.part for reading in check.readings])
    shown = {
        **_case(session, row),
        "check": check,
        "looks_at": looks_at,
        "apart": apart,
        "there": (("", "as often as the case says"), *THERE),
    }
    return Around(shown, _today(who, session, row, "done_on") | {"check": asked})


def _around_renewal(session: Session, who: Principal, place: str, _fields: Mapping[str, str]) -> Around:
    row = service.found(session, who, place)
    shown = {**_case(session, row), **_suspects_and_others(row)}
    return Around(shown, _today(who, session, row, "done_on"))


def _around_closing(session: Session, who: Principal, place: str, _fields: Mapping[str, str]) -> Around:
    row = service.found(session, who, place)
    last = case.cure_of(row)
    by = [] if last is None else last["renewed"]
    taken = [part for step in row.steps for part in step.get("renewed", ())]
    shown = {
        **_case(session, row),
        **_suspects_and_others(row),
        "last_cured": _parts(row, by),
        "taken": _parts(row, list(dict.fromkeys(taken))),
    }
    return Around(
        shown,
        _today(who, session, row, "closed_on")
        | {"fitted": "new"}
        | ({} if last is None else {"cured": "yes"}),
    )


def _around_taking_back(session: Session, who: Principal, place: str, _fields: Mapping[str, str]) -> Around:
    row = service.found(session, who, place)
    if not row.steps or row.closed_on is not None:
        raise NotFound("no step to take back: the case has none, or is closed")
    last = service.shown(session, row).steps[-1]
    return Around({**_case(session, row), "last": last}, {"number": str(last.number)})


def _case(session: Session, row: FaultFinding) -> dict[str, Any]:
    return {"case": row, "car": found(session, row.fleet_id, row.vehicle_id)}


def _today(who: Principal, session: Session, row: FaultFinding, field: str) -> dict[str, str]:
    unit = found(session, row.fleet_id, row.vehicle_id).distance_unit
    return {field: who.today().isoformat(), "odometer.unit": unit}


def _suspects_and_others(row: FaultFinding) -> dict[str, Words]:
    others = [
        part["fitment_id"] for part in row.opened_with["parts"] if part["fitment_id"] not in row.suspects
    ]
    return {"suspects": _parts(row, row.suspects), "others": _parts(row, others)}


def _parts(row: FaultFinding, fitment_ids: list[str]) -> Words:
    """Parts that were on the car, by name."""
    return [(one, part_name(row, one)) for one in fitment_ids]


OPEN = Entry(
    Form(
        "fault",
        FaultFindingCreate,
        ("complaint", "last_ran_well", "noted_on", "fault_present", "note"),
        numbers=frozenset({"fault_present"}),
        many=frozenset({"conditions"}),
    ),
    _open,
    _around_opening,
)
OF_CASE = {
    "check": Entry(
        Form(
            "check",
            StepCreate,
            ("check", "outcome", "fault_present", "done_on", *_ODOMETER, "note"),
            numbers=_NUMBERS,
            many=frozenset({"parts"}),
        ),
        _step,
        _around_check,
    ),
    "renewal": Entry(
        Form(
            "renewal",
            StepCreate,
            ("cured", "done_on", *_ODOMETER, "note"),
            yes_no=frozenset({"cured"}),
            numbers=_NUMBERS,
            many=frozenset({"renewed"}),
        ),
        _step,
        _around_renewal,
    ),
    "take-back": Entry(
        Form("take_back", StepTakenBack, ("number",), numbers=frozenset({"number"})),
        _take_back,
        _around_taking_back,
    ),
    "closing": Entry(
        Form(
            "closing",
            ClosingCreate,
            ("cured", "fitted", "closed_on", *_ODOMETER, "note"),
            yes_no=frozenset({"cured"}),
            numbers=_NUMBERS,
            many=frozenset({"by", "confirmed"}),
        ),
        _close,
        _around_closing,
    ),
}
