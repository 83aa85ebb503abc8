"""A car that is to be sold: the limits are those of the part's own life, whatever its kind's are."""

import math

import pytest

from planner.interval import Cap, Costs, best_interval
from planner.interval.until_sold import until_sold
from planner.life.model import known_life

COSTS = Costs(10.0, 60.0)
KIND, EATEN = known_life(age=(3.0, 10.0)), known_life(age=(3.0, 5.0))
RISK = 0.2


def limit(life):
    """Age at which the chance of having failed reaches the limit: F(t) = 1 - exp(-(t/scale)^shape)."""
    return life.age.scale * (-math.log(1 - RISK)) ** (1 / life.age.shape)


@pytest.mark.parametrize("life", [KIND, EATEN])
def test_left_longer_for_a_sale_a_part_stays_within_the_risk_limit_of_its_own_life(life):
    free = best_interval(life, COSTS)
    found = until_sold(
        free, life, COSTS, 20.0, km=0.0, years=0.1, km_per_year=5_000, cap=Cap(), max_risk=RISK
    )
    assert found.years <= limit(life) * (1 + 1e-6)
    soon = until_sold(free, life, COSTS, 1.0, km=0.0, years=0.1, km_per_year=5_000, cap=Cap(), max_risk=RISK)
    assert (soon.years, soon.bound_by) == (pytest.approx(limit(life), rel=1e-6), "risk")


def test_a_cap_cuts_what_is_left_longer_and_without_limits_it_is_run_to_failure():
    free = best_interval(KIND, COSTS)
    given = {"km": 0.0, "years": 0.1, "km_per_year": 5_000}
    capped = until_sold(free, KIND, COSTS, 1.0, cap=Cap(years=7.0), **given)
    assert (capped.years, capped.bound_by) == (7.0, "cap")
    assert until_sold(free, KIND, COSTS, 1.0, cap=Cap(), **given).bound_by == "run to failure"
