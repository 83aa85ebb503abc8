"""One row of an interval table: the quantities that vary smoothly with yearly distance."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.optimum import choose, flip_cost, limits_on_path, middle_of_life
from planner.interval.path import LifeOnClocks, distance_share, path_hazard
from planner.interval.search import cheapest, mean_cost, near_best

if TYPE_CHECKING:
    from planner.interval.caps import Cap
    from planner.interval.costs import Costs

COLUMNS = ("years", "saved", "reach", "risk", "cost", "run", "low", "high", "chance", "flip", "share")
"""years: by cost alone where no limit cuts it; saved: share saved against running to failure; reach: chance to
reach `years`; risk: longest within the risk limit; cost, run: per year, of the advice and of running to failure;
low, high: within 5 % of the best; chance: of failing before renewal; flip: failure cost at which the advice
flips; share: part of the wearing done by distance."""


def node(
    life: LifeOnClocks, costs: Costs, rate: float, cap: Cap, max_risk: float | None, discount: float = 0.0
) -> dict[str, float]:
    """The columns at one yearly distance.

    Raises:
        CostError: as `best_interval`.
    """
    curve = cost_curve(path_hazard(life, rate), new_part_fault=costs.new_part_fault, discount=discount)
    limits = limits_on_path(curve, max_risk, cap, rate)
    free = cheapest(curve, costs)
    chosen, _ = choose(curve, costs, limits, free)
    free_cost, reach = _at(curve, costs, free)
    run = costs.failure * curve.failures_if_run
    final_cost, final_reach = _at(curve, costs, chosen if math.isfinite(chosen) else free)
    share = distance_share(life, rate, middle_of_life(curve)) if curve.ends else None
    flip = flip_cost(curve, costs, free)
    low, high = near_best(curve, costs, chosen, math.inf)
    return {
        "years": chosen if chosen < limits.years else free,
        "saved": 1.0 - free_cost / run if run > 0 and costs.failure > costs.planned else 0.0,
        "reach": reach,
        "risk": limits.risk,
        "cost": final_cost,
        "run": run,
        "low": low,
        "high": high,
        "chance": 1.0 - final_reach,
        "flip": math.nan if flip is None else flip,
        "share": math.nan if share is None else share,
    }


def _at(curve: CostCurve, costs: Costs, years: float) -> tuple[float, float]:
    if math.isinf(years):
        return costs.failure * curve.failures_if_run, 0.0
    at = np.array([years])
    return float(mean_cost(curve, costs, at)[0]), float(curve.mean_survival(at)[0])
