"""Finding the best interval on a cost curve: globally on the grid, then refined; and where a level is crossed."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.interval.cost_rate import CostCurve
    from planner.interval.costs import Costs

Array = NDArray[np.float64]

_POINTS = 17
_ROUNDS = 4
_CLOSER, _CLOSE = 6, 4


def cheapest(curve: CostCurve, costs: Costs, limit: float = math.inf) -> float:
    """The interval of least mean cost per year among all up to `limit`; infinite if cost only falls."""
    values = curve.rates.cost(costs.planned, costs.failure)
    return lowest(curve.years, values, lambda years: mean_cost(curve, costs, years), limit)


def lowest(grid: Array, values: Array, cost: Callable[[Array], Array], limit: float = math.inf) -> float:
    """The lowest point of a cost up to `limit`; infinite if it is lowest at the grid's end and nothing limits it.

    The grid is searched as a whole, since a mean over draws may have several minima, and the best cell refined to
    about 1e-7 of the interval.

    Args:
        grid: ascending points, shape (n,).
        values: cost on the grid.
        cost: cost at any points.
        limit: the last point allowed.
    """
    inside = grid[grid < limit]
    at_inside = values[: len(inside)]
    if math.isfinite(limit):
        inside = np.append(inside, limit)
        at_inside = np.append(at_inside, cost(np.array([limit])))
    best = int(np.argmin(at_inside))
    if best == len(inside) - 1:
        return limit
    if best == 0:
        return float(inside[0])
    return _refine(cost, float(inside[best - 1]), float(inside[best + 1]))


def mean_cost(curve: CostCurve, costs: Costs, years: Array) -> Array:
    """Mean cost per year at any intervals."""
    return curve.at(years).cost(costs.planned, costs.failure)


def longest_within_risk(curve: CostCurve, max_risk: float) -> float:
    """The longest interval by which a new part fails with a chance of at most `max_risk` (mean over draws).

    Zero where a new part is worse than that from the start; infinite where no part ever gets so far.
    """
    good_enough = 1.0 - max_risk
    if curve.survives_fitting < good_enough:
        return 0.0
    past = np.flatnonzero(curve.rates.survival < good_enough)
    if not len(past):
        return math.inf
    low = float(curve.years[past[0] - 1]) if past[0] else 0.0
    return last_at_most(lambda at: 1.0 - curve.mean_survival(at), max_risk, low, float(curve.years[past[0]]))


def near_best(
    curve: CostCurve, costs: Costs, years: float, limit: float, slack: float = 0.05
) -> tuple[float, float]:
    """(low, high) around `years` between which the mean cost stays within `slack` of the cost there.

    High never passes `limit`; with `years` infinite (run to failure) high is infinite too.
    """
    rate = costs.failure * curve.failures_if_run
    at_best = rate if math.isinf(years) else float(mean_cost(curve, costs, np.array([years]))[0])
    level = (1.0 + slack) * at_best
    cost = curve.rates.cost(costs.planned, costs.failure)
    dear, later = cost > level, curve.years > years
    low = _low_edge(curve, costs, level, np.flatnonzero(dear & ~later), years)
    return low, _high_edge(curve, costs, level, np.flatnonzero(dear & later), (years, limit))


def _low_edge(curve: CostCurve, costs: Costs, level: float, dear: NDArray[np.intp], years: float) -> float:
    if not len(dear):
        return min(float(curve.years[0]), years)
    after = curve.years[dear[-1] + 1] if dear[-1] + 1 < len(curve.years) else math.inf
    low, high = float(curve.years[dear[-1]]), min(float(after), years)
    if math.isinf(high):
        return math.inf
    return _first_at_most(lambda at: mean_cost(curve, costs, at), level, low, high)


def _high_edge(
    curve: CostCurve, costs: Costs, level: float, dear: NDArray[np.intp], bounds: tuple[float, float]
) -> float:
    years, limit = bounds
    if not len(dear):
        return limit
    before = float(curve.years[dear[0] - 1]) if dear[0] else 0.0
    low, high = max(before, years), float(curve.years[dear[0]])
    return min(last_at_most(lambda at: mean_cost(curve, costs, at), level, low, high, _CLOSE), limit)


def _refine(cost: Callable[[Array], Array], low: float, high: float) -> float:
    """The minimum inside a bracket: the bracket shrinks eightfold a round, a parabola ends it."""
    for _ in range(_ROUNDS):
        years = np.linspace(low, high, _POINTS)
        values = cost(years)
        best = min(max(int(np.argmin(values)), 1), _POINTS - 2)
        low, high = float(years[best - 1]), float(years[best + 1])
    before, at, after = values[best - 1 : best + 2]
    bend = before - 2.0 * at + after
    shift = 0.5 * (before - after) / bend if bend > 0 else 0.0
    return float(years[best] + min(max(shift, -1.0), 1.0) * (high - low) / 2.0)


def last_at_most(
    value: Callable[[Array], Array], level: float, low: float, high: float, rounds: int = _CLOSER
) -> float:
    """The last point of a rising curve in [low, high] at or below a level.

    Each round narrows the bracket sixteenfold: six to 1e-7 of it, four to 2e-5.
    """
    for _ in range(rounds):
        years = np.linspace(low, high, _POINTS)
        past = np.flatnonzero(value(years) > level)
        first = int(past[0]) if len(past) else _POINTS - 1
        low, high = float(years[max(first - 1, 0)]), float(years[max(first, 1)])
    return low


def _first_at_most(value: Callable[[Array], Array], level: float, low: float, high: float) -> float:
    """The first point of a falling curve in [low, high] at or below a level, to 2e-5 of the bracket."""
    return -last_at_most(lambda years: value(-years), level, -high, -low, _CLOSE)
