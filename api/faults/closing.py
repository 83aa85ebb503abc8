"""Closing a case: what it says of each part taken out goes into the histories, and what it teaches stays with it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from api.faults import answers, case, replacements, service
from api.history import service as history
from api.history import store as history_store
from api.history.schemas import MASKED, RemovalCreate
from api.history.service import field_at_fault
from api.history.trial import refuse_off_before, try_removals
from api.problems import Conflict, Malformed
from api.schemas import DistanceIn
from planner.errors import RecordError
from planner.faults import SOMETHING_ELSE, Closing, FaultCase, known_cause
from planner.history.dates import UncertainDate
from planner.history.records import Distance, Removal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.faults.schemas import ClosingCreate
    from api.security import Principal
    from api.storage.tables import FaultFinding as Row
    from planner.faults import CaseEvidence, FaultFinding, KnownCause
    from planner.history.evidence import Reason

LEAST_FIT = 1e-9
"""Below this a part's failure fits the complaint as badly as can be told."""

NO_CURE_NAMED = "give the fitments whose renewal cured it only with cured"


@dataclass(frozen=True)
class TakenOut:
    """One part that came out during the case.

    Attributes:
        part: its fitment.
        day, odometer: when, as the step or the closing says.
        reason, cured, together: as a removal states them.
        fit: of a masked cause, how well its failure fits the complaint and its checks; None where the cause is known.
    """

    part: str
    day: date
    odometer: dict[str, Any] | None
    reason: Reason
    cured: bool
    together: int
    fit: float | None = None

    @property
    def distance(self) -> Distance | None:
        """What the dial showed."""
        return None if self.odometer is None else Distance.model_validate(self.odometer)


def close(session: Session, who: Principal, finding_id: str, body: ClosingCreate) -> Row:
    """Close a case, once; every part taken out gets its removal, and its car is planned anew.

    Raises:
        NotFound: no such case in this fleet.
        Malformed: parts named although nothing cured it, or a day in the future.
        Conflict: it is closed already, a part was not on the car or was never taken out, or a removal contradicts the car's
            other records. Nothing is stored then.
    """
    row = service.held_open(session, who, finding_id)
    if body.by and not body.cured:
        raise Malformed("by", NO_CURE_NAMED, body.by)
    closed_on = body.closed_on or who.today()
    service.not_in_future("closed_on", closed_on, who)
    if closed_on < row.noted_on:
        raise Conflict(f"the complaint was noted on {row.noted_on}, after that day", field="closed_on")
    by = _cured_by(row, body)
    for field, parts in (("by", by), ("confirmed", body.confirmed)):
        service.refuse_strangers(row, field, list(parts))
    ended = _ended(session, row, by, body)
    evidence = ended.evidence()
    cure = _last_day(row, closed_on, body)
    taken = _masked(_confirmed(_taken_out(row, evidence, by, cure), body.confirmed), evidence)
    _refuse_against_the_records(session, who, row, taken)
    row.closed_on = closed_on
    row.closing = _ending(session, who, row, body, taken, evidence) | {"by": list(by)}
    if body.fitted == "new":
        new = replacements.write_new_parts(session, who, row, row.closing["removals"], cure)
        row.closing = row.closing | {"fitted": new}
    learnt = known_cause(ended, case.kind_of(row))
    row.cause = {} if learnt is None else _taught(row, learnt)
    session.add(row)
    session.flush()
    return row


def _refuse_against_the_records(
    session: Session, who: Principal, row: Row, taken: Sequence[TakenOut]
) -> None:
    """Refuse a closing whose removals could not be written, before any of them is.

    Raises:
        Conflict: a part was off the car before, came off before it was fitted or last looked at, or the odometer falls.
    """
    for field, cured in (("by", True), ("closed_on", False)):
        days = {one.part: one.day for one in taken if one.cured is cured}
        refuse_off_before(session, who.fleet_id, field, days)
    removals = {
        one.part: Removal(removed_on=UncertainDate.on(one.day), odometer=one.distance, reason=one.reason)
        for one in taken
    }
    try:
        try_removals(session, who.fleet_id, row.vehicle_id, removals, who.today())
    except RecordError as error:
        field = field_at_fault(error, "closed_on", "removal").replace("removed_on", "closed_on")
        raise Conflict(f"{field}: wanted {error.wanted}, got {error.got}", field=field) from error


def _ending(
    session: Session,
    who: Principal,
    row: Row,
    body: ClosingCreate,
    taken: Sequence[TakenOut],
    evidence: CaseEvidence,
) -> dict[str, Any]:
    """How it ended, with what was written into the histories."""
    return {
        "closed_on": str(row.closed_on),
        "cured": body.cured,
        "confirmed": body.confirmed,
        "causes": _causes(row, evidence),
        "removals": [_write(session, who, row, one) for one in taken],
        "note": body.note,
    }


def _cured_by(row: Row, body: ClosingCreate) -> tuple[str, ...]:
    """The parts whose renewal cured it; empty: none, or something else."""
    if not body.cured:
        return ()
    last = case.cure_of(row)
    by = tuple(dict.fromkeys(body.by))
    if last is None:
        return by
    if by and set(by) != set(last["renewed"]):
        raise Conflict(
            "the complaint was gone after the last step: name the parts renewed in it, or none", field="by"
        )
    return tuple(last["renewed"])


def _ended(session: Session, row: Row, by: Sequence[str], body: ClosingCreate) -> FaultCase:
    """The case with its end, as the planner sees it; parts that the book never suspects count as something else."""
    finding: FaultFinding = case.question(
        session, row, steps=case.steps_so_far(row, with_last_cure=not body.cured)
    )
    suspected = tuple(part for part in by if part in row.suspects)
    confirmed = tuple(part for part in body.confirmed if part in row.suspects)
    end = Closing(suspected, something_else=body.cured and not suspected, confirmed=confirmed)
    with service.conflicts_in("confirmed"):
        opened = FaultCase(replace(finding, steps=()))
        return opened.with_steps(*finding.steps).close(end)


def _last_day(row: Row, closed_on: date, body: ClosingCreate) -> dict[str, Any]:
    """When the curing parts came out: in the last step, or on the day of closing."""
    last = case.cure_of(row)
    if last is not None:
        return last
    odometer = None if body.odometer is None else body.odometer.model_dump()
    return {"done_on": closed_on.isoformat(), "odometer": odometer}


def _taken_out(row: Row, evidence: CaseEvidence, by: Sequence[str], cure: dict[str, Any]) -> list[TakenOut]:
    """Each part that was on the car at the opening and came out, once, in order.

    A part taken out and renewed again in the same place counts with its first removal: the second piece is a fitment of
    its own.
    """
    told = {(one.part, one.cured): one for one in evidence.parts}
    found: dict[str, TakenOut] = {}
    renewals = [step for step in row.steps if "renewed" in step and not (by and step is case.cure_of(row))]
    stretches = [(step, step["renewed"], False) for step in renewals]
    if by:
        stretches.append((cure, list(by), True))
    for step, parts, cured in stretches:
        for part in parts:
            said = told.get((part, cured))
            reason: Reason = "on suspicion" if said is None else said.reason
            day = date.fromisoformat(step["done_on"])
            one = TakenOut(part, day, step["odometer"], reason, cured, len(parts))
            found.setdefault(part, one)
    return list(found.values())


def _confirmed(taken: Sequence[TakenOut], confirmed: Sequence[str]) -> list[TakenOut]:
    """The same, with a confirmed failure of a part that the book does not suspect said as well.

    Raises:
        Conflict: a confirmed part was never taken out.
    """
    if set(confirmed) - {one.part for one in taken}:
        raise Conflict("a part can be found to have failed only once it is out", field="confirmed")
    return [replace(one, reason="failed, confirmed") if one.part in confirmed else one for one in taken]


def _masked(taken: Sequence[TakenOut], evidence: CaseEvidence) -> list[TakenOut]:
    """The same, with the parts of one cure marked as one complaint that exactly one of them caused.

    A part whose failure cannot show as this complaint came out with the others while it was still good.
    """
    fits = {one.part: one.fit for one in evidence.parts if one.cured}
    curing = [one for one in taken if one.cured and one.reason in MASKED]
    guilty = [one.part for one in curing if fits.get(one.part, 0.0) > 0.0]
    most = max([fits[part] for part in guilty], default=1.0)
    found = []
    for one in taken:
        if one in curing and guilty and one.part not in guilty:
            found.append(replace(one, reason="while there", together=1))
        elif one in curing and len(guilty) > 1:
            fit = max(fits[one.part] / max(most, 1.0), LEAST_FIT)
            found.append(replace(one, together=len(guilty), fit=fit))
        elif one in curing and guilty:
            found.append(replace(one, together=1))
        else:
            found.append(one)
    return found


def _write(session: Session, who: Principal, row: Row, one: TakenOut) -> dict[str, Any]:
    """Write one removal into a part's history; a removal that the keeper wrote down himself stands."""
    removed: dict[str, Any] = {
        "reason": one.reason,
        "cured": one.cured,
        "changed_together": one.together,
        "removed_on": one.day.isoformat(),
        "shared_event": None if one.fit is None else f"fault-finding {row.id}",
        "complaint_fit": one.fit,
    }
    shown = {"fitment_id": one.part, **removed}
    fitment = history_store.fitment(session, who.fleet_id, one.part)
    if fitment is None:
        return {**shown, "written": False, "why": "the fitment was struck out meanwhile"}
    session.refresh(fitment)
    if not fitment.in_service:
        return {**shown, "written": False, "why": "it has a removal already, which stands as it was written"}
    odometer = None if one.odometer is None else DistanceIn.model_validate(one.odometer)
    body = RemovalCreate(**removed, odometer=odometer, note=f"Fault-finding: {row.title}"[:4000])
    history.add_removal(session, who, one.part, body)
    return {**shown, "written": True, "why": None}


def _taught(row: Row, learnt: KnownCause) -> dict[str, Any]:
    """What the case teaches; an own complaint by its row too, for its name may be used anew once it is taken away."""
    return {
        "causes": dict(learnt.causes),
        "car_ratios": dict(learnt.car_ratios),
        "complaint_id": row.opened_with["own_complaint_id"],
    }


def _causes(row: Row, evidence: CaseEvidence) -> list[dict[str, Any]]:
    return [
        {"fitment_id": None, "part": SOMETHING_ELSE, "chance": round(chance, 4)}
        if part == SOMETHING_ELSE
        else {"fitment_id": part, "part": answers.part_name(row, part), "chance": round(chance, 4)}
        for part, chance in evidence.causes.items()
    ]
