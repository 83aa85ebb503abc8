"""What stands where a part came off during a case: the new part is written down, or its place is named as empty."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING, Any

from api.faults import case, store
from api.history import service as history
from api.history.schemas import FitmentCreate
from api.problems import Conflict
from api.schemas import DistanceIn

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import FaultFinding as Row
    from api.storage.tables import Fitment


def write_new_parts(
    session: Session, who: Principal, row: Row, removals: Sequence[dict[str, Any]], cure: dict[str, Any]
) -> list[dict[str, Any]]:
    """Write a new part of the same kind into each place that the case left empty.

    A part whose removal the keeper wrote down himself is passed over: what he wrote stands.

    Args:
        session: a session that writes.
        who: who closes the case.
        row: the case.
        removals: what closing it wrote into the histories.
        cure: day and odometer of the renewal that cured it; that of the last step or of the closing.

    Raises:
        Conflict: the new part contradicts the car's other records.
    """
    ours = {one["fitment_id"] for one in removals if one["written"]}
    fitted = []
    for old in empty_places(session, row, removals):
        if old["fitment_id"] in ours:
            day, odometer = _last_renewal(row, old["fitment_id"], cure)
            fitted.append(_write(session, who, row, old, day, odometer))
    return fitted


def empty_places(session: Session, row: Row, removals: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The parts that came off during the case and are off the car, with nothing on record in their place since."""
    if not removals:
        return []
    on_record = store.fitments(session, row.fleet_id, row.vehicle_id)
    before = case.kind_of(row)
    since: dict[tuple[str, str], list[Fitment]] = defaultdict(list)
    for one in on_record:
        if one.id not in before:
            since[one.kind, one.position].append(one)
    there = {one.id: one for one in on_record}
    found = []
    for removal in removals:
        old = there.get(removal["fitment_id"])
        if old is None or old.in_service:
            continue
        place, off = since[old.kind, old.position], date.fromisoformat(removal["removed_on"])
        new = next((one for one in place if _went_in_since(one, off)), None)
        if new is None:
            found.append({"fitment_id": old.id, "kind": old.kind, "position": old.position or None})
        else:
            place.remove(new)
    return found


def _went_in_since(fitment: Fitment, day: date) -> bool:
    """Whether it may stand where a part came off on that day: fitted since, or there now and nobody knows since when."""
    if fitment.fitted_latest is None:
        return fitment.in_service
    return fitment.fitted_latest >= day


def _last_renewal(row: Row, part: str, cure: dict[str, Any]) -> tuple[str, dict[str, Any] | None]:
    """Day and odometer of the last time that something new went into a part's place."""
    steps = [step for step in row.steps if part in step.get("renewed", ())]
    last = cure if part in row.closing.get("by", ()) or not steps else steps[-1]
    return last["done_on"], last["odometer"]


def _write(
    session: Session, who: Principal, row: Row, old: dict[str, Any], day: str, odometer: dict[str, Any] | None
) -> dict[str, Any]:
    body = FitmentCreate(
        kind=old["kind"],
        position=old["position"],
        fitted_on=day,
        odometer=None if odometer is None else DistanceIn.model_validate(odometer),
        note=f"Fault-finding: {row.title}"[:4000],
    )
    try:
        new = history.add_fitment(session, who, row.vehicle_id, body)
    except Conflict as error:
        raise Conflict(f"the new part in its place: {error.detail}", field="fitted") from error
    return {"fitment_id": new.id, "in_place_of": old["fitment_id"], "fitted_on": day}
