"""Suspects that are to be renewed whatever the fault is: a search for it postpones no limit, and renewing them costs less than it says."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from api.bridge.forecasts.decisions import decided
from api.bridge.forecasts.outlook import outlooks
from api.bridge.forecasts.plans import driven, planned_parts
from api.faults import store
from planner.catalogue import load_catalogue
from planner.interval.costs import LABOUR_SHARE
from planner.schedule import value_brought_forward

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.bridge.forecasts.outlook import Outlook
    from api.storage.tables import FaultFinding as Row
    from planner.faults import FaultFinding
    from planner.faults.values import Candidate

CLOSES_SOON = timedelta(days=365)
"""A window that closes within a year leaves little choice when its renewal is paid for (judgement)."""

BY_LIMIT = "due anyway by its limit, whatever the fault is"
FOUND_BAD = "due anyway as it was found when last looked at, whatever the fault is"
BY_SAFETY = "due anyway as a safety part whose day has come, whatever the fault is"


def with_what_is_due(session: Session, row: Row, finding: FaultFinding, as_of: date) -> FaultFinding:
    """The same question, with what is due anyway on that day said of each suspect that is still on the car.

    Of a part that is to be renewed anyway, or in the window of its own renewal, what its planned renewal would cost is no cost of
    the search.
    """
    suspects = {one.part for one in finding.candidates}
    found = [
        pair
        for pair in store.forecasts(session, row.fleet_id, row.vehicle_id)
        if pair[0].fitment_id in suspects
    ]
    parts = {one.row.fitment_id: one for one in outlooks(session, [forecast for forecast, _ in found], as_of)}
    why = {part: _why(one, as_of) for part, one in parts.items()}
    kept = decided(session, row.fleet_id, list(parts.values()), as_of)
    near = [
        one for part, one in parts.items() if why[part] or (part not in kept and _in_its_window(one, as_of))
    ]
    positions = {forecast.fitment_id: position for forecast, position in found}
    values = _values(session, row.fleet_id, near, positions, as_of)
    candidates = tuple(
        replace(
            one,
            due_anyway=why.get(one.part, ""),
            spent_anyway=_at_most(values.get(one.part, 0.0), one, finding),
        )
        for one in finding.candidates
    )
    return replace(finding, candidates=candidates)


def _why(one: Outlook, as_of: date) -> str:
    if one.kept.limit is not None and one.kept.limit <= as_of:
        return BY_LIMIT
    if one.kept.since.found_bad is not None:
        return FOUND_BAD
    reached = one.row.due_likely is not None and one.row.due_likely <= as_of
    return BY_SAFETY if reached and load_catalogue()[one.row.kind].safety else ""


def _in_its_window(one: Outlook, as_of: date) -> bool:
    """Whether its renewal may be planned for this day already and for none much later.

    Not where the window stays open for years, as leaving the part costs nearly the same then; where nobody knows its age; or where
    only a look is due.
    """
    earliest, latest = one.window.earliest, one.window.latest
    if earliest is None or latest is None or one.kept.since.age_unknown or one.decides == "inspection":
        return False
    return earliest <= as_of and latest <= as_of + CLOSES_SOON


def _values(
    session: Session, fleet_id: str, parts: list[Outlook], positions: dict[str, str], as_of: date
) -> dict[str, float]:
    if not parts:
        return {}
    usage = driven(parts, as_of)
    wanted = {one.row.fitment_id: positions[one.row.fitment_id] for one in parts}
    planned = planned_parts(session, fleet_id, parts, wanted)
    return {
        part.name: value_brought_forward(part, usage, one.window, as_of)
        for part, one in zip(planned, parts, strict=True)
    }


def _at_most(value: float, one: Candidate, finding: FaultFinding) -> float:
    """Never the whole renewal: done on its own, it does not share the labour of a visit."""
    alone = (1.0 - LABOUR_SHARE) * one.minutes / 60.0 * finding.hourly_rate
    return max(min(value, finding.cost(one) - alone), 0.0)
