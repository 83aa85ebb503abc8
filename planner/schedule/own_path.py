"""The yearly distance of a part's own path: what it has run so far, and what the car's present use adds until due."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from planner.interval import IntervalTable

Array = NDArray[np.float64]

_STEPS = 24


def rate_on_own_path(
    table: IntervalTable, *, km: ArrayLike, years: ArrayLike, km_per_year: ArrayLike
) -> Array:
    """The yearly distance, from fitting to renewal, at which a part should be judged.

    A car's use changes, so a part that stands at (km, years) today isn't on the straight path of today's yearly
    distance. From here on the car moves at `km_per_year`; the part is due where that line meets the points
    (r·τ(r), τ(r)) of best renewal, and r there is the average yearly distance over the part's life. A part already
    past such a point is judged at its average so far; one that is run to failure, at the car's present use.

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
    last = table.columns(rate).years
    first = table.columns(ran / aged).years
    low = np.zeros_like(aged)
    high = np.maximum(np.where(np.isfinite(first), np.maximum(first, last), last), aged) - aged
    endless = ~np.isfinite(high)
    high = np.where(endless, 0.0, high)
    for _ in range(_STEPS):
        middle = (low + high) / 2.0
        due = aged + middle >= table.columns((ran + rate * middle) / (aged + middle)).years
        low, high = np.where(due, low, middle), np.where(due, middle, high)
    own = (ran + rate * high) / (aged + high)
    return np.asarray(np.where(endless, rate, own))
