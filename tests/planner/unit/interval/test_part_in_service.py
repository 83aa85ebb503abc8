"""A part in service is left until waiting costs more than its successor, given that it has come so far."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.errors import CostError
from planner.interval import Cap, Costs, best_interval, best_wait, cost_of_waiting, marginal_cost
from planner.life.model import known_life
from tests.planner.unit.interval.test_best import uncertain_life

COSTS = Costs(planned=60, failure=340)


@pytest.mark.parametrize("age", [0.0, 2.0, 4.5])
def test_with_a_like_successor_and_known_life_the_wait_ends_at_the_best_interval(age):
    # age replacement is the fixed point of the rule (Barlow & Proschan 1965, ch. 4)
    life = known_life(age=(2.5, 10.0))
    best = best_interval(life, COSTS)
    wait = best_wait(life, COSTS, best.cost_per_year, years=age)
    assert age + wait.wait_years == pytest.approx(best.years, rel=1e-5)
    assert best_wait(life, COSTS, best.cost_per_year, years=best.years + 0.5).wait_years == 0


def test_the_wait_ends_where_the_hazard_times_the_extra_cost_reaches_the_successors_cost():
    # the marginal rule (cf - cp)·h(t) = g in closed form for a Weibull: t = eta·(g·eta/(beta·(cf - cp)))^(1/(beta-1))
    life = known_life(age=(3.0, 12.0))
    for worth in (15.0, 25.0, 60.0):
        due = 12 * (worth * 12 / (3 * 280)) ** 0.5
        wait = best_wait(life, COSTS, worth, years=1.0)
        assert 1.0 + wait.wait_years == pytest.approx(due, rel=1e-5)


def test_two_clocks_off_the_straight_path_meet_the_marginal_rule():
    life = known_life(distance=(2.4, 175_000), age=(2.0, 23.5))
    wait = best_wait(life, COSTS, 16.0, km=40_000, years=3, km_per_year=1_400)
    at = {"km": 40_000 + 1_400 * wait.wait_years, "years": 3 + wait.wait_years}
    assert float(life.hazard(**at, km_per_year=1_400)) * 280 == pytest.approx(16.0, rel=1e-4)
    assert wait.wait_km == pytest.approx(1_400 * wait.wait_years)


def test_a_worse_successor_is_a_reason_to_wait():
    life = known_life(age=(2.5, 10.0))
    good, bad = (best_interval(life, Costs(60, 340, fault)).cost_per_year for fault in (0.0, 0.1))
    assert bad > good
    assert best_wait(life, COSTS, bad, years=3).wait_years > best_wait(life, COSTS, good, years=3).wait_years


def test_draws_are_averaged_given_survival():
    life, worth = uncertain_life(), 14.0
    now, rate = {"km": 60_000.0, "years": 9.0}, 2_000.0
    for counts in (False, True):
        waits = np.linspace(0, 40, 8_001)
        start = life.cumulative_hazard_draws(**now)
        gained = life.cumulative_hazard_draws(km=60_000 + rate * waits, years=9 + waits) - start[:, None]
        weights = np.exp(-start) / np.exp(-start).sum() if counts else np.full(len(start), 1 / len(start))
        survival = weights @ np.exp(-gained)
        lived = np.concatenate(([0], np.cumsum((survival[1:] + survival[:-1]) / 2 * np.diff(waits))))
        cost = 60 * survival + 340 * (1 - survival) - worth * lived
        advice = best_wait(life, COSTS, worth, **now, km_per_year=rate, survived_counts=counts)
        assert advice.wait_years == pytest.approx(waits[cost.argmin()], abs=0.02)
        assert advice.cost_of_renewing_now == pytest.approx(60 - cost.min(), abs=1e-3)
        assert advice.chance_by_then == pytest.approx(1 - survival[cost.argmin()], abs=1e-3)


def test_a_part_that_does_not_wear_is_left_and_one_past_its_limits_is_due_now():
    random = known_life(age=(1.0, 10.0))
    left = best_wait(random, COSTS, 40.0, years=5)
    assert (left.wait_years, left.bound_by, left.chance_by_then) == (math.inf, "run to failure", 1.0)
    assert left.cost_of_never == 0
    capped = best_wait(random, COSTS, 40.0, years=5, cap=Cap(years=8))
    assert (capped.wait_years, capped.bound_by) == (3, "cap")
    over = best_wait(random, COSTS, 40.0, years=9, cap=Cap(years=8))
    assert (over.wait_years, over.bound_by) == (0, "cap")
    by_km = best_wait(random, COSTS, 40.0, km=9_000, years=1, km_per_year=500, cap=Cap(km=10_000))
    assert by_km.wait_years == 2


def test_surviving_moves_no_risk_limit():
    # the limit counts from fitting: however long it has survived, it is due at the same age
    life = uncertain_life()
    due = [
        age
        + best_wait(
            life, COSTS, 100.0, km=1_000 * age, years=age, km_per_year=1_000, max_risk=0.05
        ).wait_years
        for age in (0.0, 1.0, 2.0, 3.4)
    ]
    assert due == pytest.approx([due[0]] * 4, rel=1e-5)
    assert (
        best_wait(life, COSTS, 100.0, km=90_000, years=30, km_per_year=1_000, max_risk=0.05).bound_by
        == "risk"
    )


def test_a_part_that_some_draws_give_no_life_can_still_be_advised():
    sharp = replace(known_life(age=(8.0, 10.0)), draws=np.log([[8.0, 2.0], [8.0, 30.0]]))
    assert best_wait(sharp, COSTS, 12.0, years=6, survived_counts=True).wait_years > 5
    assert best_wait(sharp, COSTS, 12.0, years=6).wait_years >= 0


def test_the_cost_of_waiting_is_the_integral_of_the_marginal_cost():
    # P(Δ) = ∫ from the best day of ((cf - cp)·h - g)·S (Wildeman, Dekker & Smit 1997), by the trapezium rule
    life, worth, age = known_life(age=(3.0, 12.0)), 25.0, 2.0
    best = best_wait(life, COSTS, worth, years=age).wait_years
    for wait in (0.0, best / 2, best, best + 3):
        s = np.linspace(best, wait, 20_001)
        hazard = 3 * (age + s) ** 2 / 12**3
        survival = np.exp((age / 12) ** 3 - ((age + s) / 12) ** 3)
        integral = np.trapezoid((280 * hazard - worth) * survival, s)
        found = cost_of_waiting(life, COSTS, worth, [wait], years=age)[0]
        assert found == pytest.approx(integral, rel=1e-6, abs=1e-9)


def test_waiting_past_a_limit_costs_without_end_and_not_waiting_stays_possible():
    life = uncertain_life()
    waits = np.array([0.0, 0.5, 1.0, 2.0, 8.0])
    capped = cost_of_waiting(
        life, COSTS, 14.0, waits, km=2_000, years=2, km_per_year=1_000, cap=Cap(years=3.5)
    )
    assert np.isfinite(capped).tolist() == [True, True, True, False, False]
    assert np.all(np.diff(capped[:3]) < 0)  # before the limit that binds, waiting is cheaper
    over = cost_of_waiting(life, COSTS, 14.0, waits, km=2_000, years=9, km_per_year=1_000, cap=Cap(years=3.5))
    assert np.isfinite(over).tolist() == [True, False, False, False, False]
    assert over[0] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"successor_cost_per_year": 0}, "successor_cost_per_year"),
        ({"years": -1}, "years"),
        ({"km": math.nan}, "km"),
        ({"max_risk": 2}, "max_risk"),
        ({"discount": -1}, "discount"),
        ({"cap": Cap(km=1_000)}, "km_per_year"),
    ],
)
def test_bad_input_names_the_field(arguments, field):
    with pytest.raises(CostError) as refused:
        best_wait(known_life(age=(2.5, 10.0)), COSTS, **{"successor_cost_per_year": 10.0, **arguments})
    assert refused.value.field == field


def test_a_successor_worth_the_marginal_cost_makes_that_wait_the_best():
    life, costs = uncertain_life(), Costs(60, 340)
    now = {"km": 30_000, "years": 5, "km_per_year": 6_000, "survived_counts": True}
    for wait in (0.5, 2.0, 4.0):
        worth = marginal_cost(life, costs, wait, **now)
        assert best_wait(life, costs, worth, **now).wait_years == pytest.approx(wait, abs=0.1)


def test_the_marginal_cost_of_a_known_life_is_its_hazard():
    # Weibull, shape 2, scale 10 years: h(5) = 2·5/100 = 0.1 a year
    assert marginal_cost(known_life(age=(2.0, 10.0)), Costs(60, 340), 1.0, years=4) == pytest.approx(
        28.0, rel=0.01
    )
