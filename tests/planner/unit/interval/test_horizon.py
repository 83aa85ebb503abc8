"""Planning to the end of ownership: short horizons leave parts alone, long ones approach the endless rule."""

import math

import numpy as np
import pytest

from planner.errors import CostError
from planner.interval import Cap, Costs, best_interval
from planner.interval.horizon import plan_to_the_end
from planner.life.model import known_life
from tests.planner.unit.interval.test_best import uncertain_life

COSTS = Costs(planned=60, failure=340)


@pytest.mark.parametrize("horizon", [0.5, 3.0, 25.0])
def test_a_part_that_fails_at_random_costs_its_rate_times_the_years(horizon):
    plan = plan_to_the_end(known_life(age=(1.0, 8.0)), COSTS, horizon, years=4)
    assert plan.wait_years == math.inf
    assert plan.cost == pytest.approx(340 * horizon / 8, rel=1e-4)
    assert plan.failures == pytest.approx(horizon / 8, rel=1e-4)
    assert plan.renewals == 0


def test_one_step_of_enumeration_agrees_with_the_program():
    # a life of 5 years to within 2 %: a car kept for 4 years needs nothing, one kept for 8 needs one renewal
    sharp = known_life(age=(150.0, 5.0))
    assert plan_to_the_end(sharp, COSTS, 4).cost == pytest.approx(0, abs=1e-6)
    once = plan_to_the_end(sharp, COSTS, 8)
    assert once.cost == pytest.approx(60, rel=0.01)
    assert once.renewals == pytest.approx(1, rel=0.01)
    assert 3.0 < once.wait_years < 5.0
    assert once.cost_untouched == pytest.approx(340, rel=0.01)


def test_a_car_soon_sold_is_not_given_a_new_part():
    life = known_life(age=(3.0, 10.0))
    endless = best_interval(life, COSTS)
    worn = endless.years + 0.2
    assert plan_to_the_end(life, COSTS, 30, years=worn).wait_years < 0.3
    assert plan_to_the_end(life, COSTS, 0.5, years=worn).wait_years == math.inf


def test_a_long_horizon_costs_what_the_endless_rule_costs():
    life = known_life(age=(3.0, 10.0))
    endless = best_interval(life, COSTS)
    near, far = (plan_to_the_end(life, COSTS, horizon).cost for horizon in (60, 90))
    assert (far - near) / 30 == pytest.approx(endless.cost_per_year, rel=0.01)


def test_the_plan_agrees_with_simulating_it():
    # the wait for the first part is the plan's; simulated with no renewal of successors over a short horizon, which
    # is what the program finds best there
    life, horizon = known_life(age=(2.5, 6.0)), 5.0
    plan = plan_to_the_end(life, COSTS, horizon, years=4.0)
    rng = np.random.default_rng(2)
    n = 200_000
    cost, now, age = np.zeros(n), np.zeros(n), np.full(n, 4.0)
    due = np.full(n, plan.wait_years)
    for _ in range(12):
        used = (age / 6.0) ** 2.5
        fails = now + 6.0 * (used + rng.exponential(size=n)) ** 0.4 - age
        ends = np.minimum(np.minimum(fails, due), horizon)
        cost += np.where(ends < horizon, np.where(fails < due, 340.0, 60.0), 0.0)
        now, age, due = ends, np.zeros(n), np.full(n, np.inf)
    again = plan_to_the_end(life, COSTS, horizon - plan.wait_years)
    assert again.wait_years == math.inf or again.wait_years > 0
    assert plan.cost <= cost.mean() * 1.005
    if math.isinf(again.wait_years):
        assert plan.cost == pytest.approx(cost.mean(), rel=0.01)
    assert plan.cost <= plan.cost_untouched


def test_a_bad_new_part_argues_for_leaving_the_old_one():
    life = known_life(age=(2.5, 10.0))
    good = plan_to_the_end(life, COSTS, 12, years=4)
    bad = plan_to_the_end(life, Costs(60, 340, 0.1), 12, years=4)
    assert bad.wait_years >= good.wait_years
    assert bad.cost > good.cost


def test_a_cap_binds_over_a_horizon_too():
    life = known_life(age=(1.0, 100.0))
    plan = plan_to_the_end(life, COSTS, 10, years=4, cap=Cap(years=6))
    assert 1.9 < plan.wait_years <= 2
    assert plan.renewals == pytest.approx(2, abs=0.2)  # at 2 and at 8 years, unless one failed before
    past = plan_to_the_end(life, COSTS, 10, years=7, cap=Cap(years=6))
    assert past.wait_years == 0
    by_km = plan_to_the_end(life, COSTS, 10, km=9_000, km_per_year=1_000, cap=Cap(km=10_000))
    assert 0.9 < by_km.wait_years <= 1


def test_draws_and_both_clocks_are_used():
    plan = plan_to_the_end(uncertain_life(), COSTS, 8, km=60_000, years=7, km_per_year=6_000)
    assert 0 <= plan.cost <= plan.cost_untouched
    discounted = plan_to_the_end(
        uncertain_life(), COSTS, 8, km=60_000, years=7, km_per_year=6_000, discount=0.1
    )
    assert discounted.cost < plan.cost


@pytest.mark.parametrize("horizon", [0, -1, math.nan, math.inf])
def test_a_horizon_must_lie_ahead(horizon):
    with pytest.raises(CostError) as refused:
        plan_to_the_end(known_life(age=(2, 8)), COSTS, horizon)
    assert refused.value.field == "horizon_years"
