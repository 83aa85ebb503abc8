"""What a part has done by the day it moves, and which parts cannot move as they are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from api.bridge import gather
from api.bridge.forecasts.clocks import last_finding
from api.bridge.forecasts.measured import seen
from api.bridge.in_force.circumstances import key_of
from planner.catalogue import load_catalogue, load_modifiers
from planner.history.clocks import TOO_ROUGH, ClockUnknownError, part_clocks
from planner.history.dates import UncertainDate
from planner.history.timeline import timeline

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from api.bridge.gather import Car, Part
    from planner.history.clocks import PartClocks
    from planner.history.part_history import Event
    from planner.history.records import Removal
    from planner.history.spells import Clock

WORDS = (
    "Distance and age go on from what the parts had reached; those of unknown age stay of unknown age. What repairs had taken off, "
    "and what the other car's circumstances did, does not go with them: look at each part before the car is driven."
)

TOO_WIDE_YEARS = TOO_ROUGH["age"]
"""A fitting day known no better than this is of no use on another car: the part counts as of unknown age."""


class Clocks(NamedTuple):
    """Km and years that a part has done since it was new; None where nobody knows."""

    km: float | None
    years: float | None


def why_not(
    part: Part, here: Sequence[str], there: Sequence[str], today: date, *, measured: bool
) -> str | None:
    """Why a part cannot move as it is; None if it can.

    Args:
        part: on the car that it comes off.
        here: circumstances of the car that it goes into.
        there: circumstances of the car that it comes off.
        today: no record may be later.
        measured: whether it was measured anew at the move.
    """
    _, finding = last_finding(timeline(part.history, today))
    if part.history.fitment.condition == "rebuilt":
        return "a rebuilt part has a life of its own: write down its removal and its fitting one by one"
    if finding not in (None, "good"):
        return f"it was last found {finding}: take it off for that reason, or write down a new look"
    wear = seen(part.history, load_catalogue()[part.row.kind], today)
    if wear is not None and wear.passed_on is not None:
        return "it was last measured at its limit: take it off for that reason"
    if not measured and any(look.measurement is not None for look in part.history.inspections):
        return "it was measured before: say what it measures now"
    return _forgiven(part, here, there)


def _forgiven(part: Part, here: Sequence[str], there: Sequence[str]) -> str | None:
    """Whether a safety part would be forgiven what its old car's circumstances did to it."""
    kind = load_catalogue()[part.row.kind]
    left = set(key_of(kind.id, there, None).split()) - set(key_of(kind.id, here, None).split())
    shortened = [name for name in sorted(left) if load_modifiers()[name].middle < 1.0]
    if not kind.safety or not shortened:
        return None
    told = ", ".join(load_modifiers()[name].name for name in shortened)
    return f"a safety part that has aged faster ({told}) is not to count as one that has not: renew it"


def clocks_of(car: Car, parts: Sequence[Part], removal: Removal, today: date) -> list[Clocks]:
    """What some parts of a car have done when they come off together.

    Raises:
        RecordError: the removal contradicts their other records, or the car's.
    """
    after = gather.with_removals(car, {part.row.id: removal for part in parts})
    return [_reached(after.part(part.row.id), today) for part in parts]


def _reached(part: Part, today: date) -> Clocks:
    line = timeline(part.history, today)
    too_wide = line.fitted.on.width_years > TOO_WIDE_YEARS
    if part.history.fitment.fitted_on is None or line.removed is None or too_wide:
        return Clocks(None, None)
    clocks = replace(part_clocks(part.history, line), fitted=_as_early_as_can_be(line.fitted))
    return Clocks(_at(clocks, line.removed, "distance"), _at(clocks, line.removed, "age"))


def _as_early_as_can_be(fitted: Event) -> Event:
    """A limit counts from the earliest fitting that there can have been; on the new car nothing else would tell of it."""
    first = UncertainDate.on(fitted.on.earliest)
    return replace(fitted, on=first, km=None if fitted.km is None else (fitted.km[0],) * 3)


def _at(clocks: PartClocks, event: Event, clock: Clock) -> float | None:
    try:
        return max(0.0, clocks.at(event, clock))
    except ClockUnknownError:
        return None
