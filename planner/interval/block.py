"""Renewal on fixed days: block renewal with failures renewed or only repaired in between.

Barlow & Hunter 1960 (minimal repair); Barlow & Proschan 1965, ch. 4 (block replacement); the renewal function by the
midpoint rule of Xie 1989 for Riemann-Stieltjes integrals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from planner.interval.cost_rate import cost_curve
from planner.interval.search import lowest

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.interval.costs import Costs
    from planner.interval.path import PathHazard

Array = NDArray[np.float64]

OnFailure = Literal["renew", "minimal repair"]
"""What happens between the fixed days: the failed part is renewed, or repaired to as bad as old."""

_STEPS = 1500
_LIVES = 3.0


@dataclass(frozen=True)
class BlockRule:
    """Renewal on fixed days, whatever the age of the part.

    Attributes:
        years: time between the fixed days; infinite if cost only falls within three mean lives.
        cost_per_year: expected cost per year, mean over draws.
    """

    years: float
    cost_per_year: float


def renewal_function(cdf: Callable[[Array], Array], end: float, steps: int = _STEPS) -> tuple[Array, Array]:
    """(times, expected renewals by then) on a uniform grid from 0 to `end`.

    Args:
        cdf: distribution function of the life, any shape in and out.
        end: last time.
        steps: panels; the error falls with the square of their width.
    """
    times = np.linspace(0.0, end, steps + 1)
    width = end / steps
    whole, half = cdf(times), cdf(np.maximum(times[:-1] + width / 2.0, 0.0))
    renewals = np.zeros(steps + 1)
    gained = np.zeros(steps)
    for i in range(1, steps + 1):
        past = gained[: i - 1] @ half[i - 1 : 0 : -1]
        renewals[i] = (whole[i] + past - half[0] * renewals[i - 1]) / (1.0 - half[0])
        gained[i - 1] = renewals[i] - renewals[i - 1]
    return times, renewals


def best_block(hazard: PathHazard, costs: Costs, on_failure: OnFailure = "renew") -> BlockRule:
    """The best time between fixed days.

    Args:
        hazard: cumulative hazard along the car's path, per draw.
        costs: `planned` for the work on the fixed day, `failure` for a failure in between (its renewal, or its
            minimal repair).
        on_failure: what is done about failures in between.
    """
    curve = cost_curve(hazard)
    if on_failure == "minimal repair":
        return _minimal_repair(hazard, costs, curve.years)
    mean_life = float(curve.lived_until(curve.years[-1:]).mean())
    times, renewals = _mean_renewals(hazard, _LIVES * mean_life)

    def cost(years: Array) -> Array:
        return np.asarray((costs.planned + costs.failure * np.interp(years, times, renewals)) / years)

    return _rule(times[1:], cost)


def _minimal_repair(hazard: PathHazard, costs: Costs, grid: Array) -> BlockRule:
    def cost(years: Array) -> Array:
        return np.asarray((costs.planned + costs.failure * hazard(years).mean(axis=0)) / years)

    return _rule(grid, cost)


def _mean_renewals(hazard: PathHazard, end: float) -> tuple[Array, Array]:
    draws = len(hazard(np.array([end])))
    each = []
    for draw in range(draws):

        def cdf(times: Array, row: int = draw) -> Array:
            return np.asarray(-np.expm1(-hazard(times)[row]))

        times, renewals = renewal_function(cdf, end, _STEPS if draws == 1 else _STEPS // 5)
        each.append(renewals)
    return times, np.mean(each, axis=0)


def _rule(grid: Array, cost: Callable[[Array], Array]) -> BlockRule:
    years = lowest(grid, cost(grid), cost)
    at = grid[-1] if np.isinf(years) else years
    return BlockRule(years, float(cost(np.array([at]))[0]))
