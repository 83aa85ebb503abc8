"""The parts in service on a past day: where their clocks stood, and where they were then expected to stand later."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.history.clocks import TOO_ROUGH, ClockUnknownError, part_clocks
from planner.history.timeline import timeline
from planner.usage import yearly_distance

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from planner.history.clocks import PartClocks
    from planner.history.part_history import PartHistory, Timeline
    from planner.history.spells import Clock
    from planner.usage import Usage

PACES = (0.3, 0.4, 0.3)
"""Weights of the low, likely and high yearly distance: the three-point rule for a 10 %, 50 % and 90 % point
(Keefer & Bodily 1983, Management Science 29:595-609, their extended Swanson-Megill rule)."""

_BAD = ("worn to limit", "failed")


class NoStatementError(Exception):
    """No chance can be stated for a part on a past day; the text says why."""


@dataclass(frozen=True)
class InService:
    """One part in service on a past day.

    Attributes:
        history: the part, as it was then known.
        km, years: its clocks on that day; a clock that the life does not run on is 0.
        usage: how far its car was then expected to go; None where the life does not run on distance.
    """

    history: PartHistory
    km: float
    years: float
    usage: Usage | None

    def ahead(self, days: Sequence[date]) -> NDArray[np.float64]:
        """Distance that the car was expected to go by each later day, shape (days, paces)."""
        if self.usage is None:
            return np.zeros((len(days), len(PACES)))
        start = self.usage.km_at_as_of or 0.0
        paces = (self.usage.low, self.usage.km_per_year, self.usage.high)
        return np.array([[max(self.usage.km_on(day, pace) - start, 0.0) for pace in paces] for day in days])


class Usages:
    """Yearly distance of each car as it could be told on one past day, worked out once a car."""

    def __init__(self, on: date) -> None:
        self._on = on
        self._found: dict[str, Usage] = {}

    def of(self, history: PartHistory, line: Timeline) -> Usage:
        """The usage of a part's car.

        Args:
            history: the part, as then known.
            line: its timeline, whose track stands in where the car has none of its own.
        """
        if history.track is None:
            return yearly_distance(line.track, self._on)
        name = history.vehicle.ref
        if name not in self._found:
            self._found[name] = yearly_distance(history.track, self._on)
        return self._found[name]


def in_service(known: PartHistory, on: date, clocks: Sequence[Clock], usages: Usages) -> InService | None:
    """A part as it stood on a past day; None where it was off the car, or known to be bad.

    Args:
        known: its history, as then known.
        on: the day.
        clocks: that the life runs on.
        usages: of that day.

    Raises:
        RecordError: the records contradict each other.
        NoStatementError: a clock cannot be told, or too roughly.
    """
    if known.removal is not None or known.next_fitted is not None:
        return None
    line = timeline(known, on)
    if _known_bad(line):
        return None
    of_part = part_clocks(known, line)
    try:
        years = _years(of_part, line, on) if "age" in clocks else 0.0
        if "distance" not in clocks:
            return InService(known, 0.0, years, None)
        usage = usages.of(known, line)
        return InService(known, _km(of_part, line, usage), years, usage)
    except ClockUnknownError as error:
        raise NoStatementError(str(error)) from error


def _known_bad(line: Timeline) -> bool:
    bad = False
    for look in line.looks:
        bad = look.finding in _BAD if look.what == "inspected" else False
    return bad


def _years(of_part: PartClocks, line: Timeline, on: date) -> float:
    if of_part.doubt(line.last_seen, "age") > TOO_ROUGH["age"]:
        raise ClockUnknownError("its age is known too roughly")
    behind = (on - line.last_seen.on.likely).days / 365.25
    return max(of_part.at(line.last_seen, "age") + behind, 0.0)


def _km(of_part: PartClocks, line: Timeline, usage: Usage) -> float:
    if usage.km_at_as_of is None:
        raise ClockUnknownError("no odometer figure tells its distance")
    if of_part.doubt(line.last_seen, "distance") > TOO_ROUGH["distance"]:
        raise ClockUnknownError("its distance is known too roughly")
    since_seen = usage.km_at_as_of - (line.last_seen.km or (0.0, usage.km_at_as_of, 0.0))[1]
    return max(of_part.at(line.last_seen, "distance") + max(since_seen, 0.0), 0.0)
