"""Age replacement straight from a survival curve, with no law assumed: the total-time-on-test optimum.

Barlow & Campo 1975; Bergman 1977: it is enough to compare renewing just before each failure that was seen.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import SpellError

if TYPE_CHECKING:
    from planner.interval.costs import Costs

Array = NDArray[np.float64]


def best_from_curve(times: ArrayLike, survival: ArrayLike, costs: Costs) -> tuple[float, float]:
    """(interval, cost per unit of time) of renewing just before one of the failures seen.

    Args:
        times: ascending times at which the survival curve steps down.
        survival: its value from each of them on; a curve of complete lives ends at 0.
        costs: planned and failure cost.

    Returns:
        The interval is infinite where running to failure is cheapest; if the curve does not come down to 0 that is
        not known, and only intervals up to its last step are compared.

    Raises:
        SpellError: times or survival empty, out of order, negative or not finite.
    """
    steps, after = _checked(times, survival)
    before = np.concatenate(([1.0], after[:-1]))
    lived = np.cumsum(before * np.diff(steps, prepend=0.0))
    cost = (costs.planned * before + costs.failure * (1.0 - before)) / lived
    best = int(np.argmin(cost))
    if after[-1] == 0.0 and costs.failure / lived[-1] <= cost[best]:
        return math.inf, costs.failure / float(lived[-1])
    return float(steps[best]), float(cost[best])


def empirical_curve(lives: ArrayLike) -> tuple[Array, Array]:
    """(times, survival) of complete lives.

    Raises:
        SpellError: no lives, or one that is not positive and finite.
    """
    each = np.asarray(lives, dtype=np.float64)
    if each.ndim != 1 or not len(each) or not np.all(np.isfinite(each)) or np.any(each <= 0):
        raise SpellError("lives", "at least one positive, finite life", lives)
    times, counts = np.unique(each, return_counts=True)
    return times, 1.0 - np.cumsum(counts) / len(each)


def _checked(times: ArrayLike, survival: ArrayLike) -> tuple[Array, Array]:
    steps, after = np.asarray(times, dtype=np.float64), np.asarray(survival, dtype=np.float64)
    if steps.ndim != 1 or not len(steps) or np.any(np.diff(steps) <= 0) or not np.all(np.isfinite(steps)):
        raise SpellError("times", "ascending, finite times", times)
    if steps[0] <= 0:
        raise SpellError("times", "positive times", times)
    falls = np.all(np.diff(after) <= 0) if after.shape == steps.shape else False
    if not falls or np.any(after < 0) or np.any(after > 1):
        raise SpellError("survival", "values from 1 down to 0, one per time", survival)
    return steps, np.where(after < 1e-12, 0.0, after)
