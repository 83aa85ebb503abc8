"""Intervals held to a further hard cap, such as one part's own: one at a time, or as columns."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.interval.advice import BOUNDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.interval.advice import Interval
    from planner.interval.caps import Cap
    from planner.interval.tables import IntervalColumns

_CAP = BOUNDS.index("cap")


def held_to(interval: Interval, cap: Cap, *, planned: float) -> Interval:
    """The interval cut at a cap that it would pass; unchanged where it stays within.

    The reason is left as it was: word it anew. The chance of failing by then stays that of the uncut interval, an
    upper bound.

    Args:
        interval: as chosen without this cap.
        cap: the further limit, counted from fitting.
        planned: cost of a planned renewal: renewed so often, a part costs at least that per interval.

    Raises:
        CostError: the cap is in km and the interval has no yearly distance.
    """
    years = cap.years_on_path(interval.km_per_year)
    if years >= interval.years:
        return interval
    rate = interval.km_per_year
    return replace(
        interval,
        km=rate * years if rate else None,
        years=years,
        cost_per_year=max(interval.cost_per_year, planned / years if years > 0 else math.inf),
        run_to_failure=False,
        bound_by="cap",
        within_5_percent=(min(interval.within_5_percent[0], years), years),
        flips_at_failure_cost=None,
    )


def held_columns(
    found: IntervalColumns,
    km_per_year: NDArray[np.float64],
    *,
    cap_km: NDArray[np.float64],
    cap_years: NDArray[np.float64],
    planned: float,
) -> IntervalColumns:
    """What `held_to` does, for many parts at once; infinite caps hold nothing.

    Args:
        found: intervals at each yearly distance, (n,).
        km_per_year: those yearly distances, (n,).
        cap_km: each part's cap in km, (n,), infinite where none.
        cap_years: each part's cap in years, likewise.
        planned: cost of a planned renewal.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        by_km = np.where(km_per_year > 0, cap_km / km_per_year, np.inf)
        years = np.minimum(cap_years, by_km)
        cut = years < found.years
        km = np.where(km_per_year > 0, km_per_year * years, np.nan)
        cost = np.maximum(found.cost_per_year, planned / years)
    return replace(
        found,
        km=np.where(cut, km, found.km),
        years=np.where(cut, years, found.years),
        cost_per_year=np.where(cut, cost, found.cost_per_year),
        low_years=np.where(cut, np.minimum(found.low_years, years), found.low_years),
        high_years=np.where(cut, years, found.high_years),
        bound_by=np.where(cut, _CAP, found.bound_by).astype(np.int8),
    )
