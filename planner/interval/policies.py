"""Ways of living with one part, side by side: renew, inspect, run with a spare aboard, run without."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import CostError
from planner.interval.caps import NO_CAP, Cap
from planner.interval.checks import number, positive, yearly_distance
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.inspection import Delay, best_inspection, onset
from planner.interval.optimum import choose, limits_on_path
from planner.interval.path import LifeOnClocks, PathHazard, path_hazard
from planner.interval.search import cheapest, mean_cost

if TYPE_CHECKING:
    from planner.interval.costs import Costs

PolicyName = Literal["renew", "inspect", "run with a spare aboard", "run without", "rule of thumb"]
"""What a keeper may do about one part."""


@dataclass(frozen=True)
class Looking:
    """What checking a part costs and finds.

    Attributes:
        cost: of one check.
        delay: from visible wear to failure.
        delay_share: share of its life for which wear can be seen.
        sensitivity: chance that a check finds wear that is there.
    """

    cost: float
    delay: Delay
    delay_share: float
    sensitivity: float = 1.0


@dataclass(frozen=True)
class Spare:
    """What carrying a spare changes.

    Attributes:
        failure_cost: of a failure with the spare aboard, at most that without.
        cost_per_year: of having it (capital, room, shelf life), 0 or more.
    """

    failure_cost: float
    cost_per_year: float = 0.0


@dataclass(frozen=True)
class Policy:
    """One way of living with a part.

    Attributes:
        name: which.
        years: time between renewals (or checks, for "inspect"); infinite where there are none.
        cost_per_year: expected, in the unit of the costs.
        allowed: False where a hard cap or a risk limit forbids it, however cheap it looks.
    """

    name: PolicyName
    years: float
    cost_per_year: float
    allowed: bool = True


def compare_policies(
    life: LifeOnClocks,
    costs: Costs,
    km_per_year: float | None = None,
    *,
    spare: Spare | None = None,
    looking: Looking | None = None,
    max_risk: float | None = None,
    cap: Cap | None = None,
    rule_of_thumb_years: float | None = None,
) -> tuple[Policy, ...]:
    """The policies that apply, the cheapest allowed one first.

    A cap or a risk limit forbids both ways of running to failure, and checking (a check postpones no limit); a rule
    of thumb beyond the limit is forbidden too.

    Raises:
        CostError: a cost, the spare or the check makes no sense.
        UsageError: the yearly distance is negative or not finite.
    """
    rate = yearly_distance(km_per_year)
    hazard = path_hazard(life, rate)
    curve = cost_curve(hazard, new_part_fault=costs.new_part_fault)
    limits = limits_on_path(curve, max_risk, NO_CAP if cap is None else cap, rate)
    free = math.isinf(limits.years)
    run = costs.failure * curve.failures_if_run
    years, _ = choose(curve, costs, limits, cheapest(curve, costs))
    found = [Policy("renew", years, cost_at(curve, costs, years)), Policy("run without", math.inf, run, free)]
    if spare is not None:
        found.append(Policy("run with a spare aboard", math.inf, _with_spare(curve, costs, spare), free))
    if looking is not None:
        found.append(_inspect(hazard, costs, looking, allowed=free))
    if rule_of_thumb_years is not None:
        thumb = positive("rule_of_thumb_years", rule_of_thumb_years)
        found.append(Policy("rule of thumb", thumb, cost_at(curve, costs, thumb), thumb <= limits.years))
    return tuple(sorted(found, key=lambda policy: (not policy.allowed, policy.cost_per_year)))


def cost_at(curve: CostCurve, costs: Costs, years: float) -> float:
    """Mean cost per year of renewing at so many years; infinite years for running to failure."""
    if math.isinf(years):
        return costs.failure * curve.failures_if_run
    return float(mean_cost(curve, costs, np.array([years]))[0])


def _with_spare(curve: CostCurve, costs: Costs, spare: Spare) -> float:
    holding = number("spare.cost_per_year", spare.cost_per_year, "a cost of 0 or more")
    if holding < 0:
        raise CostError("spare.cost_per_year", "a cost of 0 or more", holding)
    if positive("spare.failure_cost", spare.failure_cost) > costs.failure:
        raise CostError(
            "spare.failure_cost", f"at most the failure cost ({costs.failure:g})", spare.failure_cost
        )
    return spare.failure_cost * curve.failures_if_run + holding


def _inspect(hazard: PathHazard, costs: Costs, looking: Looking, *, allowed: bool) -> Policy:
    seen = onset(hazard, looking.delay_share)
    rule = best_inspection(seen, costs, looking.cost, looking.delay, looking.sensitivity)
    return Policy("inspect", rule.years, rule.cost_per_year, allowed)
