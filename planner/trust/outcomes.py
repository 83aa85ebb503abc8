"""What came of a part within the horizon after a past day, seen from today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.history.clocks import ClockUnknownError, part_clocks
from planner.history.episodes import episodes
from planner.history.timeline import timeline
from planner.trust.at_risk import NoStatementError

if TYPE_CHECKING:
    from datetime import date

    from planner.history.clocks import PartClocks
    from planner.history.episodes import Episode
    from planner.history.part_history import Event, PartHistory
    from planner.life.model import Life

Ending = Literal["failed", "came through", "left"]
"""Within the horizon it failed; it was good at the end of it; or it was renewed while good, sold or lost sight of before."""

LEAST_WEIGHT = 1e-6


@dataclass(frozen=True)
class Outcome:
    """One ending of a part, or a share of one.

    Attributes:
        ending: what came.
        day: the last day on which it counts as followed, at most the horizon's end.
        weight: share of the part, above 0; the shares of a part sum to at most 1.
    """

    ending: Ending
    day: date
    weight: float


def outcomes(history: PartHistory, on: date, end: date, today: date, life: Life) -> list[Outcome]:
    """What came of a part that was in service on a day.

    A failure that lies between two looks is shared out by the life: what of it fell before the day is left away, for the part
    was no longer good then; what fell after the horizon's end came through.

    Args:
        history: all that is known of it today.
        on: the past day.
        end: the horizon's end, not after today.
        today: the day of the telling.
        life: as it was then fitted.

    Raises:
        RecordError: the records contradict each other.
        NoStatementError: it was never seen again, or its clocks cannot be told.
    """
    line = timeline(history, today)
    span = _covering(episodes(history, line), on)
    if span is None:
        raise NoStatementError("not seen again after that day")
    last, weight = span.end.on.likely, span.counts.event_weight
    found = [_kept_on(last, end, 1.0 - weight)]
    if weight > 0.0 and (span.counts.ending == "failed in use" or span.good.on.likely >= last):
        ending: Ending = "failed" if last <= end else "came through"
        found.append(Outcome(ending, min(last, end), weight))
    elif weight > 0.0:
        found += _between_looks(part_clocks(history, line), span, on, end, life)
    return [one for one in found if one.weight > LEAST_WEIGHT]


def _covering(spans: list[Episode], on: date) -> Episode | None:
    """The episode that was under way on a day."""
    return next((s for s in spans if s.entry.on.likely <= on < s.end.on.likely), None)


def _kept_on(last: date, end: date, weight: float) -> Outcome:
    return Outcome("came through", end, weight) if last >= end else Outcome("left", last, weight)


def _between_looks(clocks: PartClocks, span: Episode, on: date, end: date, life: Life) -> list[Outcome]:
    """Shares of a failure found at a look: before the day (left away), within the horizon, after it."""
    good, bad = span.good.on.likely, span.end.on.likely
    try:
        hazards = [_hazard(clocks, event, life) for event in (span.good, span.end)]
    except ClockUnknownError as error:
        raise NoStatementError(str(error)) from error

    def failed_by(day: date) -> float:
        """Share of the failure that lies before a day between the looks; the hazard taken as even between them."""
        part = min(max((day - good).days / (bad - good).days, 0.0), 1.0)
        whole = hazards[1] - hazards[0]
        if whole <= 0.0:
            return part
        return float(np.expm1(-whole * part) / np.expm1(-whole))

    weight = span.counts.event_weight
    before, within = failed_by(on), failed_by(min(end, bad))
    return [
        Outcome("failed", min(bad, end), weight * (within - before)),
        Outcome("came through", end, weight * (1.0 - within)),
    ]


def _hazard(clocks: PartClocks, event: Event, life: Life) -> float:
    at = {"distance": ("km", "distance"), "age": ("years", "age")}
    places = {at[clock][0]: max(clocks.at(event, clock), 0.0) for clock in life.clocks}
    return float(life.cumulative_hazard(**places))
