"""The true distance of one car over time, from whatever its odometers showed."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import RecordError
from planner.history.dates import years_between
from planner.history.dial import INSTRUMENT_TOLERANCE, TYPICAL_KM_PER_YEAR, Point, true_points
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from planner.history.records import OdometerReading

SLOW_AND_FAST = (0.32, 3.2)
"""10 % and 90 % points of the yearly distance of such cars, as multiples of the median (lognormal, sd of log 0.9)."""


@dataclass(frozen=True)
class OdometerTrack:
    """True km by day for one car, never falling.

    Build it with `from_readings` (figures off a dial) or `from_km` (true km already). An odometer of the period may be
    wrong by 5 % either way; that is common to all its readings and so left out of `plus_minus_km`.

    Attributes:
        points: one for each reading used, in order of time.
        notes: in words, what had to be assumed (rollovers, gaps, figures not used, paces hard to believe).
    """

    points: tuple[Point, ...]
    notes: tuple[str, ...] = ()

    @classmethod
    def from_readings(
        cls, readings: Iterable[OdometerReading], *, extra: Iterable[OdometerReading] = ()
    ) -> OdometerTrack:
        """Make the track of one car.

        Args:
            readings: looks at the odometer, in any order.
            extra: figures taken off the same dial at fittings, inspections and removals.

        Raises:
            RecordError: no reading at all, or one falls and neither rollover nor a new instrument explains it.
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
            RecordError: lengths differ, nothing given, or the figures fall.
        """
        figures = np.asarray(km, dtype=float)
        if len(days) == 0 or figures.shape != (len(days),):
            raise RecordError("km", "one true distance for each day, at least one", figures.shape)
        if not np.all(np.isfinite(figures)) or figures.min() < 0 or np.any(np.diff(figures) < 0):
            raise RecordError("km", "finite distances, not negative and not falling", list(km))
        if any(later < earlier for earlier, later in itertools.pairwise(days)):
            raise RecordError("days", "days in order of time", [str(day) for day in days])
        return cls(
            tuple(Point(day, float(at), 0.0, 0, None, 0.0) for day, at in zip(days, figures, strict=True))
        )

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
        years = years_between(self.first[0], self.last[0])
        return (self.last[1] - self.first[1]) / years if years >= 0.5 else None

    def km_on(self, day: date) -> float:
        """True km on a day: between readings on the straight line, outside them by the car's mean pace (never below 0)."""
        return self.bounds_on(day)[1]

    def bounds_on(self, day: date) -> tuple[float, float, float]:
        """Lowest, likely and highest true km on a day.

        Between two readings the neighbours bound the distance for certain. Outside them the likely figure follows the car's
        mean pace (the typical one where its readings span less than half a year) and the bounds the spread between cars.
        """
        days, km = self._by_day()
        at = day.toordinal()
        if at < days[0]:
            return self._outside(km[0], (at - days[0]) / DAYS_PER_YEAR)
        if at > days[-1]:
            return self._outside(km[-1], (at - days[-1]) / DAYS_PER_YEAR)
        after = int(np.searchsorted(days, at))
        if days[after] == at:
            return (float(km[after]),) * 3
        likely = float(np.interp(at, days, km))
        return float(km[after - 1]), likely, float(km[after])

    def years_outside(self, day: date) -> float:
        """How far a day lies outside the readings, in years; 0 between them."""
        return max(0.0, years_between(day, self.first[0]), years_between(self.last[0], day))

    def true_km(self, day: date, shown_km: float) -> float | None:
        """Make a figure taken off the dial true: the turn and the instrument are those of the nearest readings.

        Args:
            day: when the figure was taken.
            shown_km: what the dial showed, converted to km.

        Returns:
            True km that lies between the neighbouring readings, or None where no neighbour's instrument makes it fit.
        """
        before = [point for point in self.points if point.on <= day]
        after = [point for point in self.points if point.on >= day]
        floor = max((p.km for p in before if p.on < day), default=0.0)
        ceiling = min((p.km for p in after if p.on > day), default=np.inf)
        for near in [*before[::-1][:1], *after[:1], *before[::-1][1:2]]:
            km = shown_km + near.offset_km
            if floor <= km <= ceiling:
                return km
        return None

    def km_per_year_at(self, day: date, over_years: float = 2.0) -> float:
        """Local yearly distance up to a day: mean pace over the years before it (after it, where the track starts there)."""
        start = day - timedelta(days=round(over_years * DAYS_PER_YEAR))
        first = self.first[0]
        if start < first:
            start, day = first, max(day, first + timedelta(days=round(over_years * DAYS_PER_YEAR)))
        years = years_between(start, day)
        return (self.km_on(day) - self.km_on(start)) / years

    def _by_day(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """One figure a day (the day's last), days as ordinals."""
        last_of_day = {point.on.toordinal(): point.km for point in self.points}
        return np.array(list(last_of_day), dtype=np.int64), np.array(list(last_of_day.values()))

    def _outside(self, km: float, years: float) -> tuple[float, float, float]:
        own = self.pace
        likely = TYPICAL_KM_PER_YEAR if own is None else own
        slow, fast = (
            (low_high * likely for low_high in SLOW_AND_FAST) if own is None else (0.5 * likely, 2.0 * likely)
        )
        low, middle, high = sorted((km + slow * years, km + likely * years, km + fast * years))
        return max(0.0, low), max(0.0, middle), max(0.0, high)


def instrument_bounds(km: float) -> tuple[float, float]:
    """Distance that an odometer of the period may really stand for, 5 % either way, in km."""
    return km * (1.0 - INSTRUMENT_TOLERANCE), km * (1.0 + INSTRUMENT_TOLERANCE)
