"""An interval on a car that is to be sold: what does not pay off by then is left, within the limits."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.interval.horizon import plan_to_the_end
from planner.interval.optimum import latest_allowed

if TYPE_CHECKING:
    from planner.interval.advice import Interval
    from planner.interval.caps import Cap
    from planner.interval.costs import Costs
    from planner.interval.path import LifeOnClocks

STEPS = 100
"""How finely the years until the sale are cut: eleven days of three years."""


def until_sold(
    interval: Interval,
    life: LifeOnClocks,
    costs: Costs,
    horizon_years: float,
    *,
    km: float,
    years: float,
    km_per_year: float,
    cap: Cap,
    max_risk: float | None = None,
    discount: float = 0.0,
) -> Interval:
    """The interval of a part in service, planned over the years that its car will be kept.

    Only what costs decided changes: a risk limit or a cap that decides stays, and both still cut what is left longer, on
    the part's own life. The reason is left as it was: word it anew.

    Args:
        interval: as chosen without an end, on the part's own path.
        life: of the part.
        costs: as the interval was chosen with.
        horizon_years: until the sale, above 0.
        km: distance since fitting now.
        years: age since fitting now.
        km_per_year: the car's yearly distance.
        cap: hard caps in force.
        max_risk: largest acceptable chance of failing, counted from fitting; None: no such limit.
        discount: continuous discount rate per year.

    Raises:
        CostError: the horizon makes no sense, or a new part is worse than `max_risk` already.
    """
    if interval.bound_by != "cost" or years >= interval.years:
        return interval
    plan = plan_to_the_end(
        life, costs, horizon_years, km=km, years=years, km_per_year=km_per_year, cap=cap, discount=discount, steps=STEPS
    )  # fmt: skip
    wanted = years + plan.wait_years
    allowed = latest_allowed(life, costs, interval.km_per_year or km_per_year, max_risk, cap)
    limit, which = allowed.years, allowed.binding
    if math.isinf(wanted) and math.isinf(limit):
        return replace(
            interval, km=math.inf, years=math.inf, run_to_failure=True, bound_by="run to failure",
            within_5_percent=(math.inf, math.inf), cost_per_year=interval.cost_run_to_failure,
        )  # fmt: skip
    chosen, rate = min(wanted, limit), interval.km_per_year
    low, high = interval.within_5_percent
    return replace(
        interval,
        km=rate * chosen if rate else None,
        years=chosen,
        bound_by=which if limit <= wanted else "cost",
        within_5_percent=(min(low, chosen), max(chosen, min(high, limit))),
    )
