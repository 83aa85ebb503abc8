"""One part in one position on one car: its records, and its events once placed in time and distance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from datetime import date

    from planner.history.dates import UncertainDate
    from planner.history.odometer import OdometerTrack
    from planner.history.records import Finding, Fitment, Inspection, Removal, Repair, RepairAction, Vehicle


@dataclass(frozen=True)
class PartHistory:
    """One part in one position on one car.

    Attributes:
        vehicle: the car.
        fitment: how the part came in.
        inspections, repairs: looks at it and work that left it in place, in any order.
        removal: how it came out; None while it is in service.
        track: the car's true distance; None leaves the figures written at this part's own events.
        next_fitted: without a removal, the day on which another was fitted in its place (`succession.with_successors`): it is
            taken as gone by then. None: nothing tells that it came off.
    """

    vehicle: Vehicle
    fitment: Fitment
    inspections: tuple[Inspection, ...] = ()
    repairs: tuple[Repair, ...] = ()
    removal: Removal | None = None
    track: OdometerTrack | None = None
    next_fitted: UncertainDate | None = None


@dataclass(frozen=True)
class Event:
    """One event of a part's history, placed.

    Attributes:
        field: the record and number it comes from ("inspections[0]"), for errors.
        on: the day, as narrow as the other events allow.
        km: low, likely and high true km; equal where an exact figure was written; None where nothing tells.
        what: a look, a repair, or one of the two ends.
        finding: what a look found; None for other events.
        action: what a repair did; None for other events.
        rough_km: half-width of the doubt of the figure written ("52,000 or so").
        written: True where a figure was written at the event, False where the car's track tells.
    """

    field: str
    on: UncertainDate
    km: tuple[float, float, float] | None
    what: Literal["fitted", "inspected", "repaired", "removed"]
    finding: Finding | None = None
    action: RepairAction | None = None
    rough_km: float = 0.0
    written: bool = False


@dataclass(frozen=True)
class Timeline:
    """A part's events in order, with the distance the car had at each.

    Attributes:
        fitted: the fitting; its day may be a wide range.
        looks: inspections and repairs in order of time.
        removed: the removal, or None.
        last_seen: the last day, and the km, at which somebody saw the part doing its work.
        track: the car's true distance, this part's own figures included; None where no figure was ever written.
    """

    fitted: Event
    looks: tuple[Event, ...]
    removed: Event | None
    last_seen: Event
    track: OdometerTrack | None

    def km_on(self, day: date) -> tuple[float, float, float] | None:
        """Lowest, likely and highest km of the car on a day; None where no figure was ever written."""
        return None if self.track is None else self.track.bounds_on(day)
