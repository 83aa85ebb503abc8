"""A part in service against its successor: how long to leave it, given that it has come so far."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import CostError
from planner.interval.caps import NO_CAP, Cap
from planner.interval.checks import chance, number, positive, yearly_distance
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.optimum import WORN_AWAY, discount_rate
from planner.interval.path import LifeOnClocks, PathHazard, path_hazard
from planner.interval.search import last_at_most, lowest

if TYPE_CHECKING:
    from planner.interval.costs import Costs

Array = NDArray[np.float64]

_NOW = np.zeros(1)
_SOON = 0.01
"""Years over which a hazard is taken."""


@dataclass(frozen=True)
class WaitAdvice:
    """How long to leave a part that is in service and good.

    Attributes:
        wait_years: years from now to its renewal; 0 for now, infinite for leaving it until it fails.
        wait_km: kilometres from now, at the car's yearly distance; None without one.
        cost_of_renewing_now: what renewing now costs above waiting as advised, once, in the unit of the costs.
        cost_of_never: what leaving it until it fails costs above waiting as advised.
        chance_by_then: chance that it fails before.
        bound_by: "cost", "cap", "risk" or "run to failure".
    """

    wait_years: float
    wait_km: float | None
    cost_of_renewing_now: float
    cost_of_never: float
    chance_by_then: float
    bound_by: str


def best_wait(
    life: LifeOnClocks,
    costs: Costs,
    successor_cost_per_year: float,
    *,
    km: float = 0.0,
    years: float = 0.0,
    km_per_year: float | None = None,
    max_risk: float | None = None,
    cap: Cap | None = None,
    survived_counts: bool = False,
    discount: float = 0.0,
) -> WaitAdvice:
    """When to renew a part that is good now, its successor costing so much a year from then on.

    Minimises over the wait w the expected cost up to the renewal less what the successor would have cost in that
    time: E[cp·S(w) + cf·(1 - S(w)) - g·∫0^w S]; S is survival from now, given that the part is good now. For a
    rising hazard that is the first moment at which (cf - cp)·hazard reaches g. A wait that fewer than 5 % of such
    parts would last is leaving it until it fails. A risk limit and a cap count from fitting, so having survived
    moves neither.

    Args:
        life: life of this part (its own kind, grade and car).
        costs: planned and failure cost.
        successor_cost_per_year: cost per year of its successor at its own best interval.
        km: distance since fitting now.
        years: age since fitting now.
        km_per_year: the car's yearly distance from now on; needed by a life on distance or a cap in km.
        max_risk: largest acceptable chance of failing, counted from fitting.
        cap: hard cap from fitting.
        survived_counts: weight the draws by their chance of coming so far; off where this part is in the fit.
        discount: continuous discount rate per year.

    Raises:
        CostError: a cost, risk or cap makes no sense.
        UsageError: the yearly distance is negative or not finite.
    """
    place = _Place.of(km, years, km_per_year)
    waiting, limits = _waiting(
        life, costs, successor_cost_per_year, place, (max_risk, cap), survived_counts, discount
    )
    return _advice(waiting, limits, place.rate)


def cost_of_waiting(
    life: LifeOnClocks,
    costs: Costs,
    successor_cost_per_year: float,
    waits: ArrayLike,
    *,
    km: float = 0.0,
    years: float = 0.0,
    km_per_year: float | None = None,
    max_risk: float | None = None,
    cap: Cap | None = None,
    survived_counts: bool = False,
    discount: float = 0.0,
) -> Array:
    """What each wait costs above the best one allowed; infinite past a cap or risk limit.

    This is P(Δ) = ∫ (m - g)·S of Wildeman, Dekker & Smit 1997 with m = (cf - cp)·hazard, as grouping needs it. Where
    a limit has already been passed, only not waiting is left (a wait of 0 stays possible).

    Args:
        waits: years from now, shape (n,), 0 or more.
        life: as in `best_wait`, like all other arguments.
        costs: likewise.
        successor_cost_per_year: likewise.
        km: likewise.
        years: likewise.
        km_per_year: likewise.
        max_risk: likewise.
        cap: likewise.
        survived_counts: likewise.
        discount: likewise.

    Raises:
        CostError: as `best_wait`.
        UsageError: as `best_wait`.
    """
    place = _Place.of(km, years, km_per_year)
    waiting, limits = _waiting(
        life, costs, successor_cost_per_year, place, (max_risk, cap), survived_counts, discount
    )
    at = np.asarray(waits, dtype=np.float64)
    best = _advice(waiting, limits, place.rate).wait_years
    last = waiting.curve.years[-1:] if math.isinf(best) else np.array([best])
    above = waiting.cost(at) - waiting.cost(last)[0]
    return np.where(at <= min(limits), np.maximum(above, 0.0), np.inf)


def marginal_cost(
    life: LifeOnClocks,
    costs: Costs,
    wait: float,
    *,
    km: float = 0.0,
    years: float = 0.0,
    km_per_year: float | None = None,
    survived_counts: bool = False,
) -> float:
    """What one more year of waiting would cost after so many: (failure - planned)·hazard of a part that is good then.

    A successor worth just so much a year makes that wait the best one (Wildeman, Dekker & Smit 1997: m(t*) = g*).

    Raises:
        CostError: as `best_wait`.
        UsageError: as `best_wait`.
    """
    place = _Place.of(km, years, km_per_year)
    from_new = path_hazard(life, place.rate, km=place.km, years_before=place.years)
    used = from_new(np.array([0.0, wait, wait + _SOON]))
    weights = _weights(used[:, 0], survived_counts=survived_counts)
    now, later = weights @ np.exp(-(used[:, 1:] - used[:, :1]))
    return float((costs.failure - costs.planned) * (1.0 - later / now) / _SOON) if now > 0 else math.inf


@dataclass(frozen=True)
class _Place:
    """Where a part stands and how its car is driven from here."""

    km: float
    years: float
    rate: float | None

    @classmethod
    def of(cls, km: float, years: float, km_per_year: float | None) -> _Place:
        return cls(_clock("km", km), _clock("years", years), yearly_distance(km_per_year))


def _waiting(
    life: LifeOnClocks,
    costs: Costs,
    worth: float,
    place: _Place,
    limits: tuple[float | None, Cap | None],
    survived_counts: bool,
    discount: float,
) -> tuple[_Waiting, tuple[float, float]]:
    """The cost of waiting, and how long the risk limit and the cap allow."""
    max_risk, cap = limits
    from_new = path_hazard(life, place.rate, km=place.km, years_before=place.years)
    start = from_new(_NOW)
    curve = cost_curve(lambda wait: from_new(wait) - start, discount=discount_rate(discount))
    weights = _weights(start[:, 0], survived_counts=survived_counts)
    risk_wait = _risk_wait(curve, from_new, max_risk, costs.new_part_fault)
    cap_wait = _cap_wait(NO_CAP if cap is None else cap, place.km, place.years, place.rate)
    waiting = _Waiting(curve, weights, costs, positive("successor_cost_per_year", worth))
    return waiting, (risk_wait, cap_wait)


@dataclass(frozen=True)
class _Waiting:
    """Expected cost of waiting, less what the successor would have cost meanwhile."""

    curve: CostCurve
    weights: Array
    costs: Costs
    worth: float

    def cost(self, waits: Array) -> Array:
        lived = self.curve.lived_until(waits)
        discount = self.curve.discount
        kept = np.exp(-discount * waits) * np.exp(-self.curve.hazard(waits))
        failed = 1.0 - kept - discount * lived
        each = self.costs.planned * kept + self.costs.failure * failed - self.worth * lived
        return np.asarray(self.weights @ each)

    def fails_within(self, wait: float) -> float:
        return float(1.0 - self.weights @ np.exp(-self.curve.hazard(np.array([wait])))[:, 0])


def _advice(waiting: _Waiting, limits: tuple[float, float], rate: float | None) -> WaitAdvice:
    risk, cap = limits
    limit = min(risk, cap)
    grid = np.concatenate((_NOW, waiting.curve.years))
    values = waiting.cost(grid)
    wait = 0.0 if limit <= 0 else lowest(grid, values, waiting.cost, limit)
    if wait < limit and waiting.fails_within(wait) > 1.0 - WORN_AWAY:
        wait = limit
    endless = math.isinf(wait)
    bound_by = "run to failure" if endless else "cost"
    if math.isfinite(limit) and wait >= limit:
        bound_by = "risk" if risk < cap else "cap"
    least = float(values[-1]) if endless else float(waiting.cost(np.array([wait]))[0])
    return WaitAdvice(
        wait_years=wait,
        wait_km=None if rate is None else (0.0 if rate == 0 else rate * wait),
        cost_of_renewing_now=float(values[0]) - least,
        cost_of_never=float(values[-1]) - least,
        chance_by_then=1.0 if endless else waiting.fails_within(wait),
        bound_by=bound_by,
    )


def _weights(used: Array, *, survived_counts: bool) -> Array:
    if not survived_counts:
        return np.full(len(used), 1.0 / len(used))
    weights = np.exp(-(used - used.min()))
    return np.asarray(weights / weights.sum())


def _cap_wait(cap: Cap, km: float, years: float, rate: float | None) -> float:
    """Years from now to the cap; 0 where it is reached."""
    waits = [math.inf if cap.years is None else cap.years - years]
    if cap.km is not None:
        if rate is None:
            raise CostError("km_per_year", "a yearly distance, because the cap is in km", None)
        left = cap.km - km
        waits.append(0.0 if left <= 0 else (left / rate if rate > 0 else math.inf))
    return max(0.0, min(waits))


def _risk_wait(curve: CostCurve, from_new: PathHazard, max_risk: float | None, fault: float) -> float:
    """Years from now to the risk limit, which counts from fitting; 0 where it is passed."""
    if max_risk is None:
        return math.inf
    limit = chance("max_risk", max_risk)

    def failed(wait: Array) -> Array:
        return np.asarray(1.0 - (1.0 - fault) * np.exp(-from_new(wait)).mean(axis=0))

    if failed(_NOW)[0] >= limit:
        return 0.0
    past = np.flatnonzero(failed(curve.years) > limit)
    if not len(past):
        return math.inf
    low = float(curve.years[past[0] - 1]) if past[0] else 0.0
    return last_at_most(failed, limit, low, float(curve.years[past[0]]))


def _clock(field: str, value: float) -> float:
    wanted = "a distance or age since fitting of 0 or more"
    if number(field, value, wanted) < 0:
        raise CostError(field, wanted, value)
    return float(value)
