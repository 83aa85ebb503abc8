"""Rules of fault-findings: a case opens on the parts that are on the car, and is shown as it stands."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from api.external_refs import refuse_taken
from api.faults import answers, case, kept_checks, replacements, shelf, store, when_it_ran_well
from api.faults.due_anyway import with_what_is_due
from api.problems import Conflict, Malformed, NotFound
from api.storage.tables import FaultFinding as Row
from api.vehicles.service import held
from planner.catalogue import load_conditions
from planner.faults import ContradictoryResults, FaultError, PartNotOnCar, advise, rank

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from sqlmodel import Session

    from api.faults.schemas import FaultFindingCreate
    from api.faults.shown import FaultFindingOut, NextStepOut
    from api.security import Principal


def open_finding(session: Session, who: Principal, vehicle_id: str, body: FaultFindingCreate) -> Row:
    """Open a case on the parts in service on a car.

    Raises:
        NotFound: no such car in this fleet.
        Malformed: an unknown condition, days in the future or in the wrong order.
        Conflict: an unknown complaint, or the ``external_ref`` is taken.
    """
    vehicle = held(session, who.fleet_id, vehicle_id)
    complaint, own = shelf.complained_of(session, who.fleet_id, body.complaint)
    for condition in body.conditions:
        if condition not in load_conditions():
            raise Malformed("conditions", f"texts out of {', '.join(load_conditions())}", condition)
    refuse_taken(session, Row, who.fleet_id, body.external_ref)
    noted_on = body.noted_on or who.today()
    not_in_future("noted_on", noted_on, who)
    if body.last_ran_well > noted_on:
        raise Malformed("last_ran_well", f"a day up to {noted_on}, when it was noted", body.last_ran_well)
    row = Row(
        fleet_id=who.fleet_id,
        vehicle_id=vehicle_id,
        title=complaint.title,
        system=vehicle.system,
        **{**body.model_dump(), "noted_on": noted_on, "conditions": body.conditions},
        opened_with=own,
        suspects=[],
        steps=[],
        closing={},
        cause={},
    )
    on_car = store.forecasts(session, who.fleet_id, vehicle_id)
    kinds = sorted({forecast.kind for forecast, _ in on_car})
    learnt = case.learnt_shares(session, row, complaint, kinds)
    since = when_it_ran_well.counted_from(session, row, [forecast for forecast, _ in on_car])
    parts = [
        case.part_as_it_was(
            forecast, position, row, since[forecast.fitment_id], suspect=forecast.kind in learnt["shares"]
        )
        for forecast, position in on_car
    ]
    row.opened_with = {**own, "parts": parts, **learnt}
    with conflicts_in("complaint"):
        row.suspects = [candidate.part for candidate in case.question(session, row).candidates]
    session.add(row)
    session.flush()
    return row


def found(session: Session, who: Principal, finding_id: str) -> Row:
    """One case.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.finding(session, who.fleet_id, finding_id)
    if row is None:
        raise NotFound("no such fault-finding")
    return row


def held_open(session: Session, who: Principal, finding_id: str) -> Row:
    """One case that is open, with its car held until the transaction ends.

    Raises:
        NotFound: there is none of that id in this fleet.
        Conflict: it is closed.
    """
    row = found(session, who, finding_id)
    held(session, who.fleet_id, row.vehicle_id)
    session.refresh(row)
    if row.closed_on is not None:
        raise Conflict(
            f"the case was closed on {row.closed_on}: open a new one if the complaint is back",
            field="closed_on",
        )
    return row


def shown(session: Session, row: Row) -> FaultFindingOut:
    """A case with its suspects as they stand."""
    finding = case.question(session, row)
    checks = {name: one.name for name, one in kept_checks.made(row).items()}
    empty = replacements.empty_places(session, row, row.closing.get("removals", []))
    return answers.case(row, finding, rank(finding), checks, empty)


def next_step(session: Session, who: Principal, finding_id: str) -> NextStepOut:
    """What to do next in an open case.

    Raises:
        NotFound: there is none of that id in this fleet, it is closed, or the complaint is gone: nothing is left to do.
    """
    row = found(session, who, finding_id)
    if row.closed_on is not None:
        raise NotFound(f"no next step: the case was closed on {row.closed_on}")
    if case.cure_of(row) is not None:
        raise NotFound("no next step: the complaint was gone after the last one; close the case")
    finding = with_what_is_due(session, row, case.question(session, row), who.today())
    return answers.next_step(row, advise(finding), who.currency)


def refuse_strangers(row: Row, field: str, fitment_ids: list[str]) -> None:
    """Let only parts through that were on the car when the case was opened.

    Raises:
        Conflict: one was not.
    """
    on_car = case.kind_of(row)
    for part in fitment_ids:
        if part not in on_car:
            raise Conflict("that part was not on this car when the case was opened", field=field)


def not_in_future(field: str, day: date, who: Principal) -> None:
    """Let only days through that have been.

    Raises:
        Malformed: the day is still to come.
    """
    if day > who.today():
        raise Malformed(field, f"a day up to {who.today()}", day)


@contextmanager
def conflicts_in(field: str) -> Iterator[None]:
    """Turn what the planner refuses about a stored case into a conflict that names a field of the body."""
    try:
        yield
    except ContradictoryResults as error:
        raise Conflict(
            "an earlier step of this check on that part showed the other outcome", field=field
        ) from error
    except FaultError as error:
        named = "parts" if isinstance(error, PartNotOnCar) and field == "outcome" else field
        raise Conflict(f"wanted {error.wanted}, got {error.got}", field=named) from error
