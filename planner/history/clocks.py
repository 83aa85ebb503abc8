"""A part's two clocks at an event: km and years since it was new, and how roughly they are known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.history.dates import years_between

if TYPE_CHECKING:
    from planner.history.part_history import Event, PartHistory, Timeline
    from planner.history.spells import Clock

TOO_ROUGH: dict[Clock, float] = {"distance": 10_000.0, "age": 3.0}
"""Doubt (km; years) of an event's place beyond which its likely value does not count as known.

"About 1998" (three years) still counts. The limit is the same whatever life was reached: a limit in proportion to it would
leave out short lives more often than long ones, and so lengthen the lives that remain. Expert judgement: such a range adds
little to the scatter of lives of tens of thousands of km and some ten years.
"""


class ClockUnknownError(Exception):
    """A clock cannot be told, or too roughly to count; the text says why."""


@dataclass(frozen=True)
class PartClocks:
    """Turns events of one part into its clocks.

    Attributes:
        fitted: the fitting.
        km_at_fitting: distance the part brought along: 0 for a new one, its donor's for a second-hand one, None unknown.
        years_at_fitting: age it brought along: 0, its donor's, or its time on the shelf for new old stock; None unknown.
    """

    fitted: Event
    km_at_fitting: float | None
    years_at_fitting: float | None

    @property
    def from_new(self) -> bool:
        """True where the part had done nothing before it was fitted."""
        return self.km_at_fitting == 0.0 and self.years_at_fitting == 0.0

    def at(self, event: Event, clock: Clock) -> float:
        """Likely km or years of the part at an event.

        Raises:
            ClockUnknownError: no figure or date tells.
        """
        return self._km(event) if clock == "distance" else self._years(event)

    def entry_at(self, event: Event, clock: Clock) -> float:
        """The clock right after an event, from which a stretch of observation starts; as `at` unless a repair set it back."""
        return self.at(event, clock)

    def doubt(self, event: Event, clock: Clock) -> float:
        """Range of the places where an event, or the fitting it counts from, may have been, in the clock's unit."""
        events = (event, self.fitted)
        if event is self.fitted:
            return 0.0
        if clock == "age":
            return max(each.on.width_years for each in events)
        return max((each.km[2] - each.km[0] for each in events if each.km is not None), default=0.0)

    def _km(self, event: Event) -> float:
        if self.km_at_fitting is None:
            raise ClockUnknownError("second-hand, and its donor's distance is unknown")
        if self.fitted.km is None or event.km is None:
            raise ClockUnknownError("no odometer figure tells its distance")
        return self.km_at_fitting + event.km[1] - self.fitted.km[1]

    def _years(self, event: Event) -> float:
        if self.years_at_fitting is None:
            raise ClockUnknownError("its age at fitting is unknown (second-hand or new old stock)")
        return self.years_at_fitting + years_between(self.fitted.on.likely, event.on.likely)


def part_clocks(history: PartHistory, line: Timeline) -> PartClocks:
    """Clocks of one part.

    A rebuilt part counts from its rebuilding (a new life of another grade: the caller fits it apart). New old stock has aged
    since it was made.
    """
    fitment = history.fitment
    if fitment.condition == "second-hand":
        return PartClocks(line.fitted, fitment.donor_km, fitment.donor_years)
    if fitment.condition == "new old stock":
        shelf = None
        if fitment.made_on is not None:
            shelf = max(0.0, years_between(fitment.made_on.likely, line.fitted.on.likely))
        return PartClocks(line.fitted, 0.0, shelf)
    return PartClocks(line.fitted, 0.0, 0.0)
