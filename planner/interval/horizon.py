"""Planning over the years a car will be kept: a car to be sold in three years is planned over three years."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import CostError
from planner.interval.caps import NO_CAP, Cap
from planner.interval.checks import number, positive, yearly_distance
from planner.interval.optimum import discount_rate
from planner.interval.path import LifeOnClocks, path_hazard

if TYPE_CHECKING:
    from planner.interval.costs import Costs

Array = NDArray[np.float64]

_STEPS = 400


@dataclass(frozen=True)
class HorizonPlan:
    """What to do with a part that is good now, on a car kept so many years more.

    Attributes:
        wait_years: years from now to its planned renewal; 0 for now; infinite if it is to see the end unless it
            fails.
        cost: expected cost up to the end, following the plan for this part and its successors.
        cost_untouched: expected cost of renewing only what fails.
        renewals, failures: expected numbers up to the end under the plan.
    """

    wait_years: float
    cost: float
    cost_untouched: float
    renewals: float
    failures: float


def plan_to_the_end(
    life: LifeOnClocks,
    costs: Costs,
    horizon_years: float,
    *,
    km: float = 0.0,
    years: float = 0.0,
    km_per_year: float | None = None,
    cap: Cap | None = None,
    discount: float = 0.0,
    steps: int = _STEPS,
) -> HorizonPlan:
    """The cheapest plan up to the end, by dynamic programming over the time left in steps.

    What is not known of the life is averaged first (the predictive life); what a part's own survival would teach
    about its successors is left out. Failures and renewals in the step in which they fall count at its middle and
    its end. At the end a part has no value left.

    Args:
        life: of this kind of part.
        costs: planned and failure cost, and the chance of a bad new part (for successors).
        horizon_years: years the car will be kept.
        km: distance since fitting now.
        years: age since fitting now.
        km_per_year: the car's yearly distance; needed by a life on distance or a cap in km.
        cap: hard cap from fitting; a part past it is renewed now.
        discount: continuous discount rate per year.
        steps: how finely the time left is cut; the work grows with their square.

    Raises:
        CostError: the horizon, a cost or the number of steps makes no sense.
        UsageError: the yearly distance is negative or not finite.
    """
    positive("horizon_years", horizon_years, "a positive number of years")
    rate, limit = yearly_distance(km_per_year), NO_CAP if cap is None else cap
    if not 2 <= steps <= 2_000:
        raise CostError("steps", "from 2 to 2,000", steps)
    width = horizon_years / steps
    later: Array = np.arange(steps + 1, dtype=np.float64) * width
    fresh = np.exp(-path_hazard(life, rate)(later)).mean(axis=0)
    hazard = path_hazard(life, rate, km=_clock("km", km), years_before=_clock("years", years))(later)
    own = np.exp(-(hazard - hazard[:, :1])).mean(axis=0)
    step = math.exp(-discount_rate(discount) * width)
    rule = _successors(costs, fresh, step, _steps(limit.years_on_path(rate), width, steps))
    never = _successors(costs, fresh, step, 0)
    own_cap = _cap_left(limit, km, years, rate)
    left = _steps(own_cap, width, steps) if own_cap > 0 else 0
    cost = _ahead(own, rule.cost, (costs.planned, costs.failure), step)
    best = int(np.argmin(cost[: left + 1]))
    untouched = _ahead(own, never.cost, (costs.planned, costs.failure), step)[-1]
    return HorizonPlan(
        wait_years=math.inf if best == steps else best * width,
        cost=float(cost[best]),
        cost_untouched=float(untouched),
        renewals=float(_ahead(own, rule.renewals, (1.0, 0.0), 1.0)[best]),
        failures=float(_ahead(own, rule.failures, (0.0, 1.0), 1.0)[best]),
    )


@dataclass(frozen=True)
class _Successors:
    """What lies ahead of a new part, by steps left to the end."""

    cost: Array
    renewals: Array
    failures: Array


def _successors(costs: Costs, fresh: Array, step: float, cap: int) -> _Successors:
    """The best plan for new parts; `cap` is the most steps one may run, 0 for never renewing early."""
    steps = len(fresh) - 1
    cost, renewals, failures = np.zeros(steps + 1), np.zeros(steps + 1), np.zeros(steps + 1)
    money, fault = (costs.planned, costs.failure), costs.new_part_fault
    for left in range(1, steps + 1):
        survival = fresh[: left + 1]
        options = _ahead(survival, cost[: left + 1], money, step)[1:]
        best = left if cap == 0 else 1 + int(np.argmin(options[: min(cap, left)]))
        first = (
            1.0 - survival[1]
        ) / 2.0  # failing in the first step leads back to a new part with as much left
        for values, (planned, failure), each in (
            (cost, money, step), (renewals, (1.0, 0.0), 1.0), (failures, (0.0, 1.0), 1.0)
        ):  # fmt: skip
            once = _ahead(survival, values[: left + 1], (planned, failure), each)[best]
            again = fault + (1.0 - fault) * first * math.sqrt(each)
            values[left] = (fault * failure + (1.0 - fault) * once) / (1.0 - again)
    return _Successors(cost, renewals, failures)


def _ahead(survival: Array, after: Array, money: tuple[float, float], step: float) -> Array:
    """Expected cost of renewing after 0, 1, … steps unless failed before; the last entry is not renewing.

    `survival` and `after` run over as many steps as are left; `after` is the cost ahead of a new part by steps left.
    A failure falls in the middle of its step.
    """
    planned, failure = money
    steps = len(survival) - 1
    fails = -np.diff(survival)
    backwards = after[::-1]
    middle = (backwards[:-1] + backwards[1:]) / 2.0
    failed = np.cumsum(fails * step ** (np.arange(steps) + 0.5) * (failure + middle))
    cost = np.concatenate(([0.0], failed))
    kept = survival * step ** np.arange(steps + 1) * (planned + backwards)
    kept[-1] = 0.0
    return np.asarray(cost + kept)


def _steps(years: float, width: float, most: int) -> int:
    """Whole steps in so many years, at most all of them and at least one."""
    return most if math.isinf(years) else max(1, min(most, math.floor(years / width)))


def _cap_left(cap: Cap, km: float, years: float, rate: float | None) -> float:
    """Years from now to the cap, 0 where it is reached."""
    left = math.inf if cap.years is None else cap.years - years
    if cap.km is not None and rate:
        left = min(left, (cap.km - km) / rate)
    return 0.0 if left <= 0 or (cap.km is not None and km >= cap.km) else left


def _clock(field: str, value: float) -> float:
    wanted = "a distance or age since fitting of 0 or more"
    if number(field, value, wanted) < 0:
        raise CostError(field, wanted, value)
    return float(value)
