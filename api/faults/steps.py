"""Rules of a case's steps: each fits the car, the steps before it and the car's other records; the last can be taken back."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from api.faults import case, kept_checks, service, shelf
from api.history.service import field_at_fault
from api.history.trial import refuse_off_before, try_removals
from api.problems import Conflict, NotFound
from planner.errors import RecordError
from planner.faults import FaultCase
from planner.history.dates import UncertainDate
from planner.history.records import Distance, Removal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlmodel import Session

    from api.faults.schemas import StepCreate
    from api.security import Principal
    from api.storage.tables import FaultFinding as Row
    from planner.catalogue import Check, Complaint
    from planner.faults import Check as CheckHere
    from planner.faults import FaultFinding

MOST_STEPS = 60
"""Steps of one case; far more than anyone makes, so that no answer grows without end."""


def add_step(session: Session, who: Principal, finding_id: str, body: StepCreate) -> Row:
    """Add a check or a renewal to an open case.

    Raises:
        NotFound: no such case in this fleet.
        Malformed: a day in the future.
        Conflict: the case is closed, the check is unknown or does not apply to this car, a part is not on it, an earlier
            result says otherwise, or a part cannot have come off on that day or at that odometer.
    """
    row = service.held_open(session, who, finding_id)
    if len(row.steps) >= MOST_STEPS:
        raise Conflict(f"the case has {MOST_STEPS} steps already: close it")
    done_on = body.done_on or who.today()
    service.not_in_future("done_on", done_on, who)
    if done_on < row.last_ran_well:
        words = f"the car last ran well on {row.last_ran_well}: wanted a day since, got {done_on}"
        raise Conflict(words, field="done_on")
    before = case.question(session, row, steps=[])
    step = _check_made(session, row, before, body) if body.check is not None else _renewal(row, body)
    odometer = None if body.odometer is None else body.odometer.model_dump()
    step |= {"done_on": done_on.isoformat(), "odometer": odometer, "note": body.note}
    row.steps = [*row.steps, step]
    if body.renewed:
        _refuse_renewal_against_the_records(session, who, row)
    with service.conflicts_in("outcome" if body.check is not None else "renewed"):
        FaultCase(before).with_steps(*case.question(session, row).steps)
    session.add(row)
    session.flush()
    return row


def take_back_last(session: Session, row: Row) -> None:
    """Take the last step of an open case back, as if it had never been entered.

    Nothing else has to be undone: a step writes into no part's history before the case is closed.

    Args:
        session: a session that writes.
        row: the case, held open.

    Raises:
        NotFound: there is no step.
    """
    if not row.steps:
        raise NotFound("no step to take back: the case has none")
    row.steps = row.steps[:-1]
    session.add(row)
    session.flush()


def _refuse_renewal_against_the_records(session: Session, who: Principal, row: Row) -> None:
    """Hold the last step, a renewal, to the rules of the removals and fitments that closing the case will write.

    A part renewed again came off with the first renewal; the day and the figure of the last one are those of the new part.

    Raises:
        Conflict: a part was off the car before, came off before it was fitted or last looked at, or the odometer falls.
    """
    last = row.steps[-1]
    removals: dict[str, Removal] = {}
    again: dict[str, Removal] = {}
    for step in row.steps:
        for part in step.get("renewed", ()):
            before = removals.setdefault(part, _removal(step)).removed_on.latest
            if step is last and date.fromisoformat(step["done_on"]) < before:
                raise Conflict(
                    f"it was renewed on {before} already: wanted a day since, got {step['done_on']}",
                    field="done_on",
                )
            if step is last:
                again[part] = _removal(step)
    first = {part: removals[part].removed_on.latest for part in again if removals[part] == again[part]}
    refuse_off_before(session, who.fleet_id, "renewed", first)
    try:
        try_removals(session, who.fleet_id, row.vehicle_id, removals, who.today())
        try_removals(session, who.fleet_id, row.vehicle_id, removals | again, who.today())
    except RecordError as error:
        field = field_at_fault(error, "done_on", "removal").replace("removed_on", "done_on")
        raise Conflict(f"{field}: wanted {error.wanted}, got {error.got}", field=field) from error


def _removal(step: dict[str, Any]) -> Removal:
    """Of a part renewed in a step."""
    odometer = step["odometer"]
    return Removal(
        removed_on=UncertainDate.parse(step["done_on"]),
        odometer=None if odometer is None else Distance.model_validate(odometer),
        reason="on suspicion",
    )


def _check_made(session: Session, row: Row, finding: FaultFinding, body: StepCreate) -> dict[str, Any]:
    known = {**shelf.checks_by_name(session, row.fleet_id), **kept_checks.made(row)}
    name = str(body.check)
    if name not in known:
        raise Conflict("neither the book nor the fleet knows it: see GET /v1/checks", field="check")
    here = next((check for check in finding.checks if check.id == name), None)
    if here is None:
        raise Conflict(_why_not(known, name, row), field="check")
    return {
        "check": name,
        "as_it_was": kept_checks.copy_of(known[name]),
        "outcome": body.outcome,
        "shows_bad": _shown_by(here, body),
        "fault_present": body.fault_present,
    }


def _why_not(known: Mapping[str, Check], name: str, row: Row) -> str:
    systems = known[name].systems
    if systems and row.system is not None and row.system not in systems:
        return f"this check does not apply to a car with {row.system}: only to {' or '.join(systems)}"
    complaint = shelf.complaint_of(row)
    if not known[name].can_be_made(
        complaint.id, {*complaint.conditions, *row.conditions}, engine_dead=complaint.engine_dead
    ):
        return _why_not_with(known[name], complaint)
    return "this check looks at none of the suspects on this car"


def _why_not_with(check: Check, complaint: Complaint) -> str:
    if check.needs_running and complaint.engine_dead:
        return "this check needs a running engine, and with this complaint it does not run"
    if check.needs_dead and not complaint.engine_dead:
        return (
            "this check tells something only of an engine that does not run, and with this complaint it does"
        )
    return "with this complaint and under these conditions this check cannot be made, or tells nothing new: see its not_with"


def _shown_by(check: CheckHere, body: StepCreate) -> bool | list[list[Any]]:
    """What the check showed: one outcome for all its parts, or one for each that was named or looked at."""
    looked_at = [reading.part for reading in check.readings]
    bad = body.outcome == "bad"
    if body.parts is None:
        if bad and len(looked_at) > 1 and not check.one_result:
            raise Conflict("this check shows which part is bad: name it", field="parts")
        return bad
    for part in body.parts:
        if part not in looked_at:
            raise Conflict("this check does not look at that part of this car", field="parts")
    named = [[part, bad] for part in dict.fromkeys(body.parts)]
    if bad and not check.one_result:
        named += [[part, False] for part in looked_at if part not in body.parts]
    return named


def _renewal(row: Row, body: StepCreate) -> dict[str, Any]:
    renewed = list(dict.fromkeys(body.renewed or ()))
    service.refuse_strangers(row, "renewed", renewed)
    return {"renewed": renewed, "cured": body.cured}
