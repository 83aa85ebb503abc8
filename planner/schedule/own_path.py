"""The yearly distance of a part's own path: what it has run so far, and what the car's present use adds until due."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from planner.interval import IntervalTable
    from planner.schedule.arithmetic import Driven

Array = NDArray[np.float64]

_BEYOND = (1e-3, 1e7)
_NEVER = 1e9
_WAITS = np.unique(np.concatenate((np.arange(1.0, 120.0, 2.0), np.geomspace(120.0, 22_000.0, 200).round())))
"""Days ahead on which a path with plans is looked at: closely at first, up to sixty years."""


def rate_on_own_path(
    table: IntervalTable, *, km: ArrayLike, years: ArrayLike, km_per_year: ArrayLike
) -> Array:
    """The yearly distance, from fitting to renewal, at which a part should be judged.

    A car's use changes, so a part that stands at (km, years) today isn't on the straight path of today's yearly
    distance. From here on the car moves at `km_per_year`; the part is due where that line meets the points
    (r·τ(r), τ(r)) of best renewal, and r there is the average yearly distance over the part's life. A part already
    past such a point is judged at its average so far; one that is run to failure, at the car's present use.

    Along the points of best renewal the years fall and the kilometres rise with r, so u*(r) - R·a*(r) rises, and
    the meeting point is found by bisection in the table: arithmetic of any number of parts at once.

    Args:
        table: intervals of the part's kind.
        km: distance since fitting now, kilometres.
        years: age since fitting now.
        km_per_year: the car's present yearly distance.
    """
    ran, aged, rate = np.broadcast_arrays(
        *(np.asarray(x, dtype=np.float64) for x in (km, years, km_per_year))
    )
    ran, aged = np.maximum(ran, 0.0), np.maximum(aged, 1e-3)
    best_years, best_km = _best_points(table)
    place = _first_above(best_years, best_km, rate, ran - rate * aged)
    due = _between(best_years, best_km, place, (rate, ran - rate * aged))
    wait = np.maximum(due - aged, 0.0)
    own = (ran + rate * wait) / (aged + wait)
    return np.asarray(np.where(due >= _NEVER / 2.0, rate, own))


def rate_as_planned(table: IntervalTable, *, km: float, years: float, use: Driven) -> float:
    """The same for one part of a car with tours or lay-ups ahead.

    Until a day ahead the car goes on at the average of what is planned and what is usual; the part is due on the first
    day on which its path at that average is due too. A part that is run to failure is judged at the usual distance.

    Args:
        table: intervals of the part's kind.
        km: distance since fitting now, kilometres.
        years: age since fitting now.
        use: how the car is driven, with what is planned.
    """
    usual = float(rate_on_own_path(table, km=km, years=years, km_per_year=use.km_per_year))
    if not use.ahead:
        return usual
    ends = np.array([plan.span[1] for plan in use.ahead.plans]) - use.as_of
    waits = np.unique(np.concatenate((_WAITS, ends[ends > 0]))) / DAYS_PER_YEAR
    driven = use.ahead.km_between(float(use.as_of), use.as_of + waits * DAYS_PER_YEAR, use.km_per_year)
    own = rate_on_own_path(table, km=km, years=years, km_per_year=driven / waits)
    due = np.flatnonzero(years + waits >= table.columns(own).years)
    return float(own[due[0]]) if len(due) else usual


def _best_points(table: IntervalTable) -> tuple[Array, Array]:
    """(years, km) of best renewal over a falling path, from standing almost still to faster than any car."""
    rates = np.concatenate((_BEYOND[:1], table.rates, _BEYOND[1:]))
    years = np.minimum(table.columns(rates).years, _NEVER)
    years = np.minimum.accumulate(years)
    return years, np.maximum.accumulate(rates * years)


def _first_above(best_years: Array, best_km: Array, rate: Array, line: Array) -> NDArray[np.intp]:
    """The first point of best renewal at or beyond each part's line, from 1 to the last."""
    low = np.zeros(rate.shape, dtype=np.intp)
    high = np.full(rate.shape, len(best_years) - 1, dtype=np.intp)
    for _ in range(int(np.ceil(np.log2(len(best_years))))):
        middle = (low + high) >> 1
        beyond = best_km[middle] - rate * best_years[middle] >= line
        high = np.where(beyond, middle, high)
        low = np.where(beyond, low, middle)
    return np.maximum(high, 1)


def _between(best_years: Array, best_km: Array, place: NDArray[np.intp], of: tuple[Array, Array]) -> Array:
    """Years at which the line meets the stretch between two points of best renewal, held within it."""
    rate, line = of
    years_low, years_high = best_years[place - 1], best_years[place]
    before = best_km[place - 1] - rate * years_low - line
    after = best_km[place] - rate * years_high - line
    span = after - before
    part = np.clip(np.where(span > 0, -before / np.where(span > 0, span, 1.0), 0.0), 0.0, 1.0)
    return np.asarray(years_low + part * (years_high - years_low))
