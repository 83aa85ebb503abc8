"""Parts that move: an engine swapped into another car, a part put by and fitted again. Their distance follows them.

A part's history belongs to what it is mounted on. While an engine is in a car it goes that car's distance; while it stands in a
corner its distance waits and its age goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.errors import RecordError
from planner.history.odometer import OdometerTrack

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from planner.history.dial import Point


@dataclass(frozen=True)
class Stay:
    """A stretch that an assembly, or a part, spent in one car.

    Attributes:
        track: that car's true distance.
        since: the day it went in.
        until: the day it came out; None while it is in.
        records_from: since when a failure in that car would have been written down, where that is later than `since`.
    """

    track: OdometerTrack
    since: date
    until: date | None = None
    records_from: date | None = None

    @property
    def watched_from(self) -> date:
        """The first day on which it was watched in that car."""
        return self.since if self.records_from is None else max(self.since, self.records_from)


def follow(stays: Sequence[Stay]) -> OdometerTrack:
    """The distance of an assembly through the cars it was in, as one track for `PartHistory.track`.

    Distances are counted from the odometer of the first car; between stays they wait. Figures that were written in any of the
    cars are read on that car's dial. The assembly's parts are watched from the first stay on, whenever the later cars joined; from
    a stay's `records_from` on where the time before it is not on record.

    Args:
        stays: in order of time, at least one.

    Raises:
        RecordError: `stays[i].since` or `stays[i].until` where stays overlap, run backwards, or one before the last is open.
    """
    if not stays:
        raise RecordError("stays", "at least one stay in a car", "none")
    _check(stays)
    km = stays[0].track.km_on(stays[0].since)
    points: list[Point] = []
    notes: list[str] = []
    for stay in stays:
        part = _within(stay)
        shift = km - part[0].km
        points += [replace(point, km=point.km + shift, offset_km=point.offset_km + shift) for point in part]
        km = points[-1].km
        notes += stay.track.notes
    return OdometerTrack(tuple(points), tuple(notes), _watched_from(stays))


def _watched_from(stays: Sequence[Stay]) -> date:
    """Since when nothing was missed: a stay of which the beginning is not on record makes it start anew."""
    late = [stay.watched_from for stay in stays if stay.watched_from > stay.since]
    return late[-1] if late else stays[0].since


def _check(stays: Sequence[Stay]) -> None:
    for index, stay in enumerate(stays):
        if stay.until is not None and stay.until < stay.since:
            raise RecordError(f"stays[{index}].until", f"a day not before {stay.since}", str(stay.until))
        if index + 1 < len(stays):
            following = stays[index + 1]
            if stay.until is None:
                raise RecordError(f"stays[{index}].until", "a day: only the last stay may be open", None)
            if following.since < stay.until:
                wanted = f"a day not before the end of the stay before, {stay.until}"
                raise RecordError(f"stays[{index + 1}].since", wanted, str(following.since))


def _within(stay: Stay) -> list[Point]:
    """The car's points during the stay, with one at each end of it."""
    readings = stay.track.points
    inside = [p for p in readings if stay.since <= p.on and (stay.until is None or p.on <= stay.until)]
    points = [_at(stay.track, stay.since), *inside]
    if stay.until is not None:
        points.append(_at(stay.track, stay.until))
    return points


def _at(track: OdometerTrack, day: date) -> Point:
    """The car's distance on a day as a point, on the instrument of the reading before it."""
    near = max(
        (point for point in track.points if point.on <= day), key=lambda p: p.on, default=track.points[0]
    )
    low, likely, high = track.bounds_on(day)
    rough = max(near.rough_km, (high - low) / 2.0)
    return replace(near, on=day, km=likely, rough_km=rough, shown=f"{likely:,.0f} km on {day}")
