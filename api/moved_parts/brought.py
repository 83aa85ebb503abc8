"""What a part has done by the day it moves, and which parts cannot move as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from api.bridge import gather
from planner.history.clocks import ClockUnknownError, part_clocks
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
    "Distance and age go on from what the parts had reached. What repairs had taken off and what was measured does not go with "
    "them: look at each part, and measure what can be measured, before the car is driven."
)


class Clocks(NamedTuple):
    """Km and years that a part has done since it was new; None where nobody knows."""

    km: float | None
    years: float | None


def why_not(part: Part) -> str | None:
    """Why a part cannot move as it is; None if it can."""
    looks = [look.finding for look in sorted(part.history.inspections, key=lambda look: look.inspected_on)]
    if part.history.fitment.condition == "rebuilt":
        return "a rebuilt part has a life of its own: write down its removal and its fitting one by one"
    if looks and looks[-1] != "good":
        return f"it was last found {looks[-1]}: take it off for that reason, or write down a new look"
    return None


def clocks_of(car: Car, parts: Sequence[Part], removal: Removal, today: date) -> list[Clocks]:
    """What some parts of a car have done when they come off together.

    Raises:
        RecordError: the removal contradicts their other records, or the car's.
    """
    after = gather.with_removals(car, {part.row.id: removal for part in parts})
    return [_reached(after.part(part.row.id), today) for part in parts]


def _reached(part: Part, today: date) -> Clocks:
    line = timeline(part.history, today)
    if part.history.fitment.fitted_on is None or line.removed is None:
        return Clocks(None, None)
    clocks = part_clocks(part.history, line)
    return Clocks(_at(clocks, line.removed, "distance"), _at(clocks, line.removed, "age"))


def _at(clocks: PartClocks, event: Event, clock: Clock) -> float | None:
    try:
        return max(0.0, clocks.at(event, clock))
    except ClockUnknownError:
        return None
