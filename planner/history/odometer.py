"""The true distance of one car over time, from whatever its odometers showed."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import RecordError
from planner.history.dates import FIRST_MOTOR_CAR, years_between
from planner.history.dial import (
    TYPICAL_KM_PER_YEAR,
    Point,
    full_turn_km,
    pace,
    rollover_believable,
    true_points,
)
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from planner.history.records import Distance, OdometerReading

INSTRUMENT_TOLERANCE = 0.05
"""Odometers of the period may be wrong by 5 % either way: no rule bound them (UNECE R39 spoke of speedometers only).

An instrument's error is common to all its figures, so both the life of a part and the interval derived from it are in
that car's own km; it matters where cars are compared.
"""

BEYOND_READINGS = {True: (0.5, 2.0), False: (0.32, 3.2)}
"""Likely 10 % and 90 % multiples of the pace outside the readings, with the car's own pace known (True) or taken from the
spread between cars (lognormal, sd of log 0.9); the first is expert judgement."""

UNEVEN_YEARS = 0.5
"""Scatter of one year's distance around the car's mean, as a share of it (expert judgement)."""

UNEVEN_SEASONS = 0.15
"""Scatter within a year, as a share of the yearly distance: a day in spring stands before the season's driving, one in
autumn after it (from the April to October share of use; expert judgement)."""


@dataclass(frozen=True)
class OdometerTrack:
    """True km by day for one car, never falling.

    Build it with `from_readings` (figures off a dial) or `from_km` (true km already).

    Attributes:
        points: one for each reading used, in order of time.
        notes: in words, what had to be assumed (rollovers, gaps, figures not used, paces hard to believe).
        watched_from: of an assembly that moved between cars, the day since which it was under its keepers' eyes; None for a
            car, whose own record says so.
    """

    points: tuple[Point, ...]
    notes: tuple[str, ...] = ()
    watched_from: date | None = None

    @classmethod
    def from_readings(
        cls, readings: Iterable[OdometerReading], *, extra: Iterable[OdometerReading] = ()
    ) -> OdometerTrack:
        """Make the track of one car.

        Args:
            readings: looks at the odometer, in any order.
            extra: figures taken off the same dial at fittings, inspections and removals.

        Raises:
            RecordError: no usable reading, or one falls and neither rollover nor a new instrument explains it.
        """
        points, notes = true_points([*readings, *extra])
        if not points:
            raise RecordError("readings", "at least one usable odometer reading", "none")
        return cls(tuple(points), tuple(notes))

    @classmethod
    def from_km(cls, days: Sequence[date], km: Sequence[float]) -> OdometerTrack:
        """Make the track from true km.

        Args:
            days: one for each figure, in order of time.
            km: true distances, finite, not negative, not falling.

        Raises:
            RecordError: lengths differ, nothing given, or days or figures fall.
        """
        figures = np.asarray(km, dtype=float)
        if len(days) == 0 or figures.shape != (len(days),):
            raise RecordError("km", "one true distance for each day, at least one", figures.shape)
        if not np.all(np.isfinite(figures)) or figures.min() < 0 or np.any(np.diff(figures) < 0):
            raise RecordError("km", "finite distances, not negative and not falling", list(km))
        if any(later < earlier for earlier, later in itertools.pairwise(days)):
            raise RecordError("days", "days in order of time", [str(day) for day in days])
        return cls(tuple(Point(day, float(at)) for day, at in zip(days, figures, strict=True)))

    @property
    def dates(self) -> NDArray[np.datetime64]:
        """Days of the readings, shape (n,)."""
        return np.array([point.on for point in self.points], dtype="datetime64[D]")

    @property
    def km(self) -> NDArray[np.float64]:
        """True km at the readings, shape (n,), never falling."""
        return np.array([point.km for point in self.points], dtype=float)

    @property
    def first(self) -> tuple[date, float]:
        """Day and true km of the first reading."""
        return self.points[0].on, self.points[0].km

    @property
    def last(self) -> tuple[date, float]:
        """Day and true km of the last reading."""
        return self.points[-1].on, self.points[-1].km

    @property
    def pace(self) -> float | None:
        """Mean km per year between first and last reading; None where they span less than half a year."""
        return pace(self.points)

    def until(self, day: date) -> OdometerTrack | None:
        """The track as it was known on a day; None before its first reading."""
        known = tuple(point for point in self.points if point.on <= day)
        return OdometerTrack(known, self.notes, self.watched_from) if known else None

    def km_on(self, day: date) -> float:
        """True km on a day: between readings on the straight line, outside them by the car's pace (never below 0)."""
        return self.bounds_on(day)[1]

    def bounds_on(self, day: date) -> tuple[float, float, float]:
        """Low (10 %), likely and high (90 %) true km on a day.

        Between two readings the distance is on the straight line, give or take how unevenly cars are used from year to
        year (a Brownian bridge) and through the seasons, and never outside its neighbours. Outside the readings the likely
        figure follows the car's mean pace (a typical one where they span less than half a year), the others the spread of
        paces.
        """
        days, km = self._by_day
        at = day.toordinal()
        if at < days[0]:
            return self._outside(float(km[0]), (at - int(days[0])) / DAYS_PER_YEAR)
        if at > days[-1]:
            return self._outside(float(km[-1]), (at - int(days[-1])) / DAYS_PER_YEAR)
        after = int(np.searchsorted(days, at))
        if days[after] == at:
            return (float(km[after]),) * 3
        return _between(at, days[after - 1 : after + 1], km[after - 1 : after + 1])

    def days_at(self, km: float) -> tuple[date, date]:
        """First and last day on which the car can have stood at a true distance.

        The bounds are the last reading below it and the first above it, `FIRST_MOTOR_CAR` and `date.max` where none is.
        """
        below = [point.on for point in self.points if point.km < km]
        above = [point.on for point in self.points if point.km > km]
        return below[-1] if below else FIRST_MOTOR_CAR, above[0] if above else date.max

    def true_km(self, day: date, reading: Distance, latest: date | None = None) -> float | None:
        """Make a figure taken off the dial true, on the turn and instrument of the nearest readings.

        Args:
            day: when the figure was taken, or the first day on which it may have been.
            reading: what the dial showed.
            latest: the last day on which it may have been taken; `day` where left out.

        Returns:
            True km, or None where no neighbouring reading's instrument makes the figure fit between its neighbours.
        """
        until = day if latest is None else latest
        for offset in (*self._near_offsets(day), *self._turned_offsets(day, until, reading)):
            km = reading.km + offset
            first, last = self.days_at(km)
            if first <= until and day <= last:
                return km
        return None

    def km_per_year_at(self, day: date, over_years: float = 2.0) -> float:
        """Local yearly distance: mean pace over the years before a day (over the first years, where the day is earlier)."""
        span = timedelta(days=round(over_years * DAYS_PER_YEAR))
        start = max(day - span, self.first[0])
        end = max(day, start + span)
        return (self.km_on(end) - self.km_on(start)) / years_between(start, end)

    @cached_property
    def _by_day(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """One figure a day (the day's last), days as ordinals."""
        last_of_day = {point.on.toordinal(): point.km for point in self.points}
        return np.array(list(last_of_day), dtype=np.int64), np.array(list(last_of_day.values()))

    def _outside(self, km: float, years: float) -> tuple[float, float, float]:
        own = self.pace
        likely = TYPICAL_KM_PER_YEAR if own is None else own
        slow, fast = BEYOND_READINGS[own is not None]
        low, high = sorted((km + slow * likely * years, km + fast * likely * years))
        return max(0.0, low), max(0.0, km + likely * years), max(0.0, high)

    def _near_offsets(self, day: date) -> Iterator[float]:
        """What had to be added to the dial at the nearest readings, the ones before the day first."""
        before = [point for point in self.points if point.on <= day]
        after = [point for point in self.points if point.on > day]
        yield from dict.fromkeys(point.offset_km for point in [*before[-2:][::-1], *after[:1]])

    def _turned_offsets(self, day: date, until: date, reading: Distance) -> Iterator[float]:
        """One turn of a five-digit dial more after the last reading, or less before the first, where believable."""
        turn = full_turn_km(5, reading.unit)
        first, last = self.points[0], self.points[-1]
        if until >= last.on and last.digits in (None, 5):
            offset = last.offset_km + turn
            driven, years = reading.km + offset - last.km, years_between(last.on, until)
            if rollover_believable(self.points, driven, years, turn):
                yield offset
        if day <= first.on and first.digits in (None, 5):
            offset = first.offset_km - turn
            driven, years = first.km - reading.km - offset, years_between(day, first.on)
            if rollover_believable(self.points, driven, years, turn):
                yield offset


def _between(at: int, days: NDArray[np.int64], km: NDArray[np.float64]) -> tuple[float, float, float]:
    """Low, likely and high km at a day strictly between two readings."""
    years, driven = float(days[1] - days[0]) / DAYS_PER_YEAR, float(km[1] - km[0])
    share = float(at - days[0]) / float(days[1] - days[0])
    likely = float(km[0]) + share * driven
    bridge = UNEVEN_YEARS * np.sqrt(share * (1.0 - share) * years)
    season = UNEVEN_SEASONS * min(1.0, years)
    spread = 1.2816 * float(np.hypot(bridge, season)) * driven / years
    return max(float(km[0]), likely - spread), likely, min(float(km[1]), likely + spread)


def instrument_bounds(km: float) -> tuple[float, float]:
    """Distance that a figure of a period odometer may really stand for, 5 % either way, in km."""
    return km * (1.0 - INSTRUMENT_TOLERANCE), km * (1.0 + INSTRUMENT_TOLERANCE)
