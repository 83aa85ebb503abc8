"""The robust slope of an odometer: recent years weigh most, lay-ups are cut out, one wrong reading does little."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.history.dates import years_between
from planner.usage.season import Shares, seasonal_years

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from planner.history.dial import Point

HALF_LIFE_YEARS = 5.0
"""After this many years of driving a stretch counts half: people move, retire, buy a second car (expert judgement)."""

STANDING_KM_PER_YEAR = 150.0
"""A car that goes less than this over `STANDING_YEARS` stands: it was moved about, not driven (expert judgement)."""

STANDING_YEARS = 1.0
MOST_POINTS = 400


@dataclass(frozen=True)
class LayUp:
    """A stretch in which the car stood.

    Attributes:
        start: the last reading before it, or the first of the flat ones.
        end: the last of the flat readings.
    """

    start: date
    end: date

    @property
    def years(self) -> float:
        """Its length in years."""
        return years_between(self.start, self.end)


@dataclass(frozen=True)
class Slope:
    """What the readings say of the pace.

    Attributes:
        km_per_year: robust pace while in use; None where the readings span no driving time.
        years: years of driving behind it, older ones counted less.
        span_years: from first to last reading, lay-ups included.
        readings: how many readings on different days.
        lay_ups: stretches cut out, in order of time.
        standing: the last of them where it lasts to the last reading, else None.
    """

    km_per_year: float | None
    years: float
    span_years: float
    readings: int
    lay_ups: tuple[LayUp, ...]
    standing: LayUp | None


def robust_slope(points: Sequence[Point], shares: Shares) -> Slope:
    """Weighted median of the slopes between all pairs of readings (Theil 1950; Sen 1968).

    Time runs by the season (`seasonal_years`), so that April to October is most of a year. A pair weighs by the time between
    its readings and by how recent the earlier of them is (`HALF_LIFE_YEARS`).

    Args:
        points: true odometer points in order of time, at least one.
        shares: share of the year's distance by month.
    """
    last_of_day = list({point.on: point for point in points}.values())
    used = _thinned(last_of_day)
    lay_ups = _lay_ups(used)
    time, km = _driving_time(used, lay_ups, shares)
    span = years_between(used[0].on, used[-1].on)
    standing = lay_ups[-1] if lay_ups and lay_ups[-1].end == used[-1].on else None
    pace = _weighted_median_slope(time, km)
    return Slope(pace, _discounted(time[-1] - time[0]), span, len(last_of_day), lay_ups, standing)


def _thinned(points: Sequence[Point]) -> list[Point]:
    if len(points) <= MOST_POINTS:
        return list(points)
    return [points[i] for i in np.linspace(0, len(points) - 1, MOST_POINTS).round().astype(int)]


def _lay_ups(points: Sequence[Point]) -> tuple[LayUp, ...]:
    """Longest runs of readings over which the car stood."""
    found: list[LayUp] = []
    start = 0
    while start < len(points) - 1:
        end = start
        while end + 1 < len(points) and _stands(points[start], points[end + 1], points[end]):
            end += 1
        if years_between(points[start].on, points[end].on) >= STANDING_YEARS:
            found.append(LayUp(points[start].on, points[end].on))
        start = max(end, start + 1)
    return tuple(found)


def _stands(start: Point, end: Point, before: Point) -> bool:
    """Flat from the start of the run, and since the reading before: a year is the least time that tells."""
    whole = max(STANDING_YEARS, years_between(start.on, end.on))
    step = max(STANDING_YEARS, years_between(before.on, end.on))
    return (
        end.km - start.km < STANDING_KM_PER_YEAR * whole and end.km - before.km < STANDING_KM_PER_YEAR * step
    )


def _driving_time(
    points: Sequence[Point], lay_ups: Sequence[LayUp], shares: Shares
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Seasonal time and km with the lay-ups cut out of both."""
    time = np.array([seasonal_years(point.on, shares) for point in points])
    km = np.array([point.km for point in points])
    steps, driven = np.diff(time), np.diff(km)
    for lay_up in lay_ups:
        flat = [lay_up.start <= a.on and b.on <= lay_up.end for a, b in itertools.pairwise(points)]
        steps[flat] = driven[flat] = 0.0
    return np.concatenate([[0.0], np.cumsum(steps)]), np.concatenate([[0.0], np.cumsum(driven)])


def _weighted_median_slope(time: NDArray[np.float64], km: NDArray[np.float64]) -> float | None:
    first, second = np.triu_indices(len(time), k=1)
    apart = time[second] - time[first]
    kept = apart > 1e-9
    if not kept.any():
        return None
    slopes = (km[second] - km[first])[kept] / apart[kept]
    recent = 0.5 ** ((time[-1] - time[first][kept]) / HALF_LIFE_YEARS)
    order = np.argsort(slopes)
    reached = np.cumsum((apart[kept] * recent)[order])
    return float(slopes[order][np.searchsorted(reached, reached[-1] / 2.0)])


def _discounted(years: float) -> float:
    """Years of driving, each counted half for every `HALF_LIFE_YEARS` it lies back."""
    decay = np.log(2.0) / HALF_LIFE_YEARS
    return float((1.0 - np.exp(-decay * years)) / decay)
