"""A rule for a kind, not for one car: X km or Y years, whichever comes first, over the fleet's spread of use."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import UsageError
from planner.interval.caps import NO_CAP, Cap
from planner.interval.checks import positive
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.optimum import discount_rate, limits_on_path
from planner.interval.path import LifeOnClocks, path_hazard

if TYPE_CHECKING:
    from planner.interval.costs import Costs

Array = NDArray[np.float64]

_CARS = 15
_GRID = 48
_ROUNDS = 4


@dataclass(frozen=True)
class KindRule:
    """One pair for all cars, whichever comes first.

    Attributes:
        km, years: the pair; one of them is infinite where that clock should never decide.
        cost_per_year: mean over the fleet of each car's cost per year under the rule.
        cost_if_each_had_its_own: the same if every car had its own best interval: what one rule for all gives up.
        cost_run_to_failure: the same if nothing were renewed early.
        km_first: share of cars that reach the distance first.
        mean_years: mean age at renewal of parts that last so long.
    """

    km: float
    years: float
    cost_per_year: float
    cost_if_each_had_its_own: float
    cost_run_to_failure: float
    km_first: float
    mean_years: float


def lognormal_use(median: float = 1_400.0, spread: float = 0.9) -> tuple[Array, Array]:
    """(yearly distances, weights) that stand for a lognormal spread of use: 15 Gauss-Hermite points.

    Raises:
        CostError: median or spread is not positive and finite.
    """
    positive("median", median)
    positive("spread", spread)
    nodes, weights = np.polynomial.hermite_e.hermegauss(_CARS)
    return median * np.exp(spread * nodes), weights / weights.sum()


def whichever_first(km: float, years: float, rates: ArrayLike, weights: ArrayLike) -> tuple[float, float]:
    """(share of cars that reach the distance first, mean age at which either is reached).

    The two-limit model of Blischke & Murthy 1994, ch. 8, for a fleet given as yearly distances with weights.

    Raises:
        UsageError: rates or weights are not of one length, negative or not finite.
    """
    rate, weight = _fleet(rates, weights)
    with np.errstate(divide="ignore"):
        by_km = km / rate
    return float(weight @ (by_km < years)), float(weight @ np.minimum(by_km, years))


def best_kind_rule(
    life: LifeOnClocks,
    costs: Costs,
    rates: ArrayLike,
    weights: ArrayLike,
    *,
    max_risk: float | None = None,
    cap: Cap | None = None,
    discount: float = 0.0,
) -> KindRule:
    """The pair (X km, Y years) of least expected cost over a fleet.

    Each car renews at the earlier of Y and X over its yearly distance; the mean of the cars' costs per year is
    searched on a log grid of both, narrowed four times. The pair itself keeps every car within a risk limit and a
    cap, since whoever reads it sees no other limit.

    Args:
        life: of the kind.
        costs: planned and failure cost.
        rates: yearly distances that stand for the fleet, kilometres a year, positive.
        weights: share of cars at each.
        max_risk: largest acceptable chance of failing before renewal, for every car.
        cap: hard cap.
        discount: continuous discount rate per year.

    Raises:
        UsageError: rates or weights are malformed.
        CostError: a risk limit below the fault of new parts, or a bad discount.
    """
    rate, weight = _fleet(rates, weights)
    if np.any(rate <= 0):
        raise UsageError("rates", "yearly distances above 0 km", rates)
    fault, yearly = costs.new_part_fault, discount_rate(discount)
    curves = [cost_curve(path_hazard(life, float(r)), new_part_fault=fault, discount=yearly) for r in rate]
    limit = np.array(
        [limits_on_path(c, max_risk, NO_CAP if cap is None else cap, float(r)).years for c, r in zip(curves, rate, strict=True)]
    )  # fmt: skip
    fleet = _Fleet(curves, costs, rate, weight, limit)
    km, years = fleet.search()
    first, mean = whichever_first(km, years, rate, weight)
    cost = float(fleet.cost(np.array([km]), np.array([years]))[0, 0])
    return KindRule(km, years, cost, fleet.each_its_own(), fleet.untouched(), first, mean)


@dataclass(frozen=True)
class _Fleet:
    curves: list[CostCurve]
    costs: Costs
    rates: Array
    weights: Array
    limits: Array

    def cost(self, km: Array, years: Array) -> Array:
        """Mean cost per year for every pair, shape (len(km), len(years)); infinite where a car would pass a limit."""
        total = np.zeros((len(km), len(years)))
        for curve, rate, weight, limit in zip(
            self.curves, self.rates, self.weights, self.limits, strict=True
        ):
            at = np.minimum(km[:, None] / rate, years[None, :])
            total += np.where(at <= limit, weight * _cost_near(curve, self.costs, at), np.inf)
        return total

    def search(self) -> tuple[float, float]:
        """The best pair; a clock that never decides is left out."""
        low = min(float(curve.years[0]) for curve in self.curves)
        high = min(max(float(curve.years[-1]) for curve in self.curves), float(self.limits.max()))
        years = np.geomspace(max(low, high * 1e-5), high, _GRID)
        km = np.geomspace(years[0] * self.rates.min(), high * self.rates.max(), _GRID)
        for _ in range(_ROUNDS):
            cost = self.cost(km, years)
            i, j = np.unravel_index(int(np.argmin(cost)), cost.shape)
            best = float(km[i]), float(years[j])
            km, years = (_narrowed(grid, int(at)) for grid, at in ((km, i), (years, j)))
        return self._without_idle_clock(*best)

    def each_its_own(self) -> float:
        """Mean cost if every car had its own best interval."""
        total = 0.0
        for curve, weight, limit in zip(self.curves, self.weights, self.limits, strict=True):
            grid = np.minimum(curve.years, limit)
            total += weight * min(float(np.min(_cost_near(curve, self.costs, grid))), self._run(curve, limit))
        return total

    def untouched(self) -> float:
        """Mean cost of running every car's part to failure."""
        each = [self.costs.failure * curve.failures_if_run for curve in self.curves]
        return float(self.weights @ np.array(each))

    def _run(self, curve: CostCurve, limit: float) -> float:
        return math.inf if math.isfinite(limit) else self.costs.failure * curve.failures_if_run

    def _without_idle_clock(self, km: float, years: float) -> tuple[float, float]:
        """Leave out a clock whose limit earns nothing (less than one part in a hundred thousand)."""
        good_enough = float(self.cost(np.array([km]), np.array([years]))[0, 0]) * (1.0 + 1e-5)
        for pair in ((math.inf, years), (km, math.inf)):
            if float(self.cost(np.array(pair[:1]), np.array(pair[1:]))[0, 0]) <= good_enough:
                return pair
        return km, years


def _cost_near(curve: CostCurve, costs: Costs, years: Array) -> Array:
    """Mean cost per year by interpolation on the curve's own fine grid, in the logarithm of the interval."""
    values = curve.rates.cost(costs.planned, costs.failure)
    found = np.interp(np.log(years), np.log(curve.years), values)
    return np.asarray(np.where(years < curve.years[0], values[0] * curve.years[0] / years, found))


def _narrowed(grid: Array, best: int) -> Array:
    low, high = grid[max(best - 2, 0)], grid[min(best + 2, len(grid) - 1)]
    return np.asarray(np.geomspace(low, high, _GRID))


def _fleet(rates: ArrayLike, weights: ArrayLike) -> tuple[Array, Array]:
    rate, weight = np.asarray(rates, dtype=np.float64), np.asarray(weights, dtype=np.float64)
    if rate.ndim != 1 or not len(rate) or not np.all(np.isfinite(rate)) or np.any(rate < 0):
        raise UsageError("rates", "yearly distances of 0 km or more", rates)
    if (
        weight.shape != rate.shape
        or not np.all(np.isfinite(weight))
        or np.any(weight < 0)
        or weight.sum() <= 0
    ):
        raise UsageError("weights", "one weight of 0 or more per yearly distance", weights)
    return rate, weight / weight.sum()
