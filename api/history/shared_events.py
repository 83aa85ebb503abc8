"""Rules for parts renewed at once against one complaint: one car, one outcome, one day, no more parts than were said."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from api.history import store
from api.problems import Conflict
from api.storage import dialect
from planner.history.shared_events import DAYS_APART, at_once

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlmodel import Session

    from api.storage.tables import Fitment, Removal


class Renewed(NamedTuple):
    """What a removal says of the complaint that it was made against."""

    vehicle_id: str
    shared_event: str | None
    cured: bool | None
    changed_together: int
    removed_earliest: date
    removed_latest: date


class Contradiction(NamedTuple):
    """The field in which a removal contradicts others against the same complaint."""

    field: str
    wanted: str
    got: str


def agree_with_the_others(session: Session, fitment: Fitment, row: Removal) -> None:
    """Refuse a removal that contradicts the others with the same `shared_event`.

    Args:
        session: a session that writes; the car is held already.
        fitment: whose removal it is.
        row: the removal, not yet stored.

    Raises:
        Conflict: the complaint is another car's, its outcome or how many were changed together differs, the days are apart, or
            more parts bear its name than were changed together.
    """
    if row.shared_event is None:
        return
    dialect.wait_for_turn(session, f"shared event {row.fleet_id} {row.shared_event}")
    others = store.renewed_against(session, row.fleet_id, row.shared_event)
    wrong = contradiction([_said(*other) for other in others], _said(row, fitment.vehicle_id))
    if wrong is not None:
        raise Conflict(f"{wrong.field}: wanted {wrong.wanted}, got {wrong.got}", field=wrong.field)


def contradiction(others: Sequence[Renewed], one: Renewed) -> Contradiction | None:
    """In what a removal contradicts the others that bear its complaint's name; None: in nothing."""
    name = str(one.shared_event)
    if any(other.vehicle_id != one.vehicle_id for other in others):
        wanted = "a name of its own for each complaint (this one is a complaint of another car: the part was not on it)"
        return Contradiction("shared_event", wanted, name)
    so_far = next((other.cured for other in others if other.cured != one.cured), one.cured)
    if so_far != one.cured:
        wanted = f"one outcome for all parts renewed against {name}, which is {_outcome(cured=so_far)} so far"
        return Contradiction("cured", wanted, _outcome(cured=one.cured))
    if not at_once((each.removed_earliest, each.removed_latest) for each in (*others, one)):
        wanted = f"a day at most {DAYS_APART} days from that of the other parts renewed against {name}, as they came out at once"
        return Contradiction("removed_on", wanted, one.removed_earliest.isoformat())
    told = [each.changed_together for each in (*others, one) if each.changed_together > 1]
    if told and len(others) + 1 > min(told):
        wanted = f"no more parts that bear the name {name} than the {min(told)} said to be changed together"
        return Contradiction("changed_together", wanted, f"{len(others) + 1} parts")
    if told and max(told) > min(told):
        said = max(told) if one.changed_together == min(told) else min(told)
        wanted = f"one number for all parts renewed against {name}, which is {said} so far"
        return Contradiction("changed_together", wanted, str(one.changed_together))
    return None


def _said(row: Removal, vehicle_id: str) -> Renewed:
    return Renewed(
        vehicle_id,
        row.shared_event,
        row.cured,
        row.changed_together,
        row.removed_earliest,
        row.removed_latest,
    )


def _outcome(*, cured: bool | None) -> str:
    return {True: "cured", False: "not cured", None: "not known"}[cured]
