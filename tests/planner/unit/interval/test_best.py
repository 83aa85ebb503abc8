"""The best interval: averaged over draws, cut by limits, run to failure where renewing doesn't pay."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.errors import CostError, InputError, UsageError
from planner.interval import Cap, Costs, best_interval
from planner.interval.cost_rate import cost_curve
from planner.interval.path import path_hazard
from planner.interval.search import mean_cost
from planner.interval.wording import reason_in_words, rounded
from planner.life.model import known_life

COSTS = Costs(planned=60, failure=340)


def uncertain_life(shapes=(2.4, 2.0), scales=(175_000, 23.5), spread=(0.35, 0.45), draws=200, seed=1):
    """A two-clock life with draws as wide as a book prior."""
    middle = np.log([shapes[0], scales[0], shapes[1], scales[1]])
    scatter = np.random.default_rng(seed).normal(size=(draws, 4)) * np.array([*spread, *spread])
    known = known_life(distance=(shapes[0], scales[0]), age=(shapes[1], scales[1]))
    return replace(known, draws=middle + scatter)


def brute_force(life, costs, rate, years):
    """Mean over draws of the cost ratio, each integral by the trapezium rule on a fine grid."""
    values = []
    for tau in years:
        t = np.linspace(0, tau, 4001)
        survival = (1 - costs.new_part_fault) * np.exp(-life.cumulative_hazard_draws(km=rate * t, years=t))
        failed = 1 - survival[:, -1]
        per_draw = (costs.planned * survival[:, -1] + costs.failure * failed) / np.trapezoid(
            survival, t, axis=1
        )
        values.append(per_draw.mean())
    return np.array(values)


@pytest.mark.parametrize("fault", [0.0, 0.04])
@pytest.mark.parametrize("rate", [800.0, 12_000.0])
def test_the_mean_of_ratios_is_minimised_over_the_draws(rate, fault):
    life, costs = uncertain_life(draws=60), Costs(60, 340, fault)
    rule = best_interval(life, costs, rate)
    around = rule.years * np.array([0.6, 0.8, 0.97, 1.0, 1.03, 1.25, 1.6])
    cost = brute_force(life, costs, rate, around)
    assert cost.argmin() == 3
    assert rule.cost_per_year == pytest.approx(cost[3], rel=1e-5)
    ratio_of_means = best_interval(life, costs, rate, plug_in=True)
    assert abs(math.log(ratio_of_means.years / rule.years)) > 0.02


def test_km_and_years_are_one_point_on_the_path():
    rule = best_interval(uncertain_life(), COSTS, 3_000)
    assert rule.km == pytest.approx(3_000 * rule.years)


def test_a_global_minimum_is_found_where_there_are_two():
    # half of the draws wear out at 1 year, half at 30, both sharply: renewing at about 20 may beat renewing at 0.7
    known = known_life(age=(8.0, 1.0))
    two = replace(known, draws=np.log([[8.0, 1.0], [8.0, 30.0]]))
    curve = cost_curve(path_hazard(two, None))
    for failure in (1.5, 3.0, 10.0, 100.0):
        costs = Costs(1, failure)
        rule = best_interval(two, costs)
        grid = np.geomspace(0.05, 200, 20_000)
        cost = mean_cost(curve, costs, grid)
        if not rule.run_to_failure:
            assert rule.cost_per_year <= cost.min() * (1 + 1e-9)
            assert rule.years == pytest.approx(grid[cost.argmin()], rel=1e-3)


def test_within_five_percent_are_the_points_where_the_cost_is_five_percent_up():
    life = uncertain_life()
    rule = best_interval(life, COSTS, 2_000)
    curve = cost_curve(path_hazard(life, 2_000))
    ends = mean_cost(curve, COSTS, np.array(rule.within_5_percent))
    assert ends == pytest.approx(1.05 * rule.cost_per_year, rel=1e-6)
    assert rule.within_5_percent[0] < rule.years < rule.within_5_percent[1]


def test_the_risk_limit_is_the_longest_interval_with_so_much_risk_from_fitting():
    life = uncertain_life()
    rule = best_interval(life, COSTS, 2_000, max_risk=0.02)
    assert rule.bound_by == "risk"
    survival = np.exp(-life.cumulative_hazard_draws(km=2_000 * rule.years, years=rule.years)).mean()
    assert 1 - survival == pytest.approx(0.02, abs=1e-6)
    assert rule.within_5_percent[1] == rule.years
    assert best_interval(life, COSTS, 2_000, max_risk=0.9).bound_by == "cost"


def test_a_risk_limit_below_the_fault_of_new_parts_is_refused():
    with pytest.raises(CostError) as refused:
        best_interval(uncertain_life(), Costs(60, 340, 0.05), 2_000, max_risk=0.03)
    assert refused.value.field == "max_risk"


def test_a_cap_binds_and_nothing_lengthens_it():
    life = uncertain_life()
    free = best_interval(life, COSTS, 2_000)
    capped = best_interval(life, COSTS, 2_000, cap=Cap(years=4))
    assert (capped.years, capped.bound_by, capped.run_to_failure) == (4, "cap", False)
    assert capped.km == 8_000
    by_km = best_interval(life, COSTS, 2_000, cap=Cap(km=5_000, years=4))
    assert (by_km.km, by_km.years) == (pytest.approx(5_000), 2.5)
    assert best_interval(life, COSTS, 2_000, cap=Cap(years=40)).years == pytest.approx(free.years)


@pytest.mark.parametrize("shape", [0.7, 1.0, 1.1])
def test_run_to_failure_where_parts_do_not_wear_and_a_cap_still_binds(shape):
    life = known_life(age=(shape, 10.0))
    free = best_interval(life, Costs(10, 15))
    assert (free.run_to_failure, free.bound_by, free.years, free.km) == (
        True,
        "run to failure",
        math.inf,
        None,
    )
    assert free.cost_per_year == free.cost_run_to_failure
    capped = best_interval(life, Costs(10, 15), cap=Cap(years=6))
    assert (capped.run_to_failure, capped.bound_by, capped.years) == (False, "cap", 6)
    assert capped.cost_per_year > capped.cost_run_to_failure


def test_equal_costs_are_run_to_failure_with_km_and_years_infinite():
    rule = best_interval(known_life(distance=(4.0, 50_000)), Costs(10, 10), 8_000)
    assert (rule.km, rule.years, rule.run_to_failure) == (math.inf, math.inf, True)


def test_the_advice_flips_at_the_stated_failure_cost():
    life = uncertain_life()
    rule = best_interval(life, COSTS, 2_000)
    flip = rule.flips_at_failure_cost
    assert best_interval(life, Costs(60, flip / 1.08), 2_000).run_to_failure
    assert not best_interval(life, Costs(60, flip * 1.08), 2_000).run_to_failure
    other_side = best_interval(life, Costs(60, flip / 1.3), 2_000)
    assert other_side.flips_at_failure_cost == pytest.approx(flip, rel=0.13)


def test_a_car_laid_up_never_uses_the_distance_clock():
    idle = best_interval(known_life(distance=(2.4, 175_000)), COSTS, 0)
    assert (idle.run_to_failure, idle.cost_run_to_failure) == (True, 0)
    assert idle.reason == "Leave it: as this car is used, nothing wears the part."
    both = best_interval(known_life(distance=(2.4, 175_000), age=(2.0, 23.5)), COSTS, 0, plug_in=True)
    age_only = best_interval(known_life(age=(2.0, 23.5)), COSTS, plug_in=True)
    assert both.years == pytest.approx(age_only.years, rel=1e-6)
    assert both.km is None


def test_a_life_on_age_needs_no_yearly_distance_and_gets_km_where_there_is_one():
    life = known_life(age=(3.0, 10.0))
    assert best_interval(life, COSTS).km is None
    assert best_interval(life, COSTS, 2_000).km == pytest.approx(2_000 * best_interval(life, COSTS).years)


@pytest.mark.parametrize(
    ("arguments", "error", "field"),
    [
        ({"km_per_year": None}, CostError, "km_per_year"),
        ({"km_per_year": -1}, UsageError, "km_per_year"),
        ({"km_per_year": math.nan}, UsageError, "km_per_year"),
        ({"km_per_year": math.inf}, UsageError, "km_per_year"),
        ({"km_per_year": "many"}, UsageError, "km_per_year"),
        ({"km_per_year": 1e300}, UsageError, "km_per_year"),
        ({"km_per_year": 10**400}, UsageError, "km_per_year"),
        ({"km_per_year": 1 + 1j}, UsageError, "km_per_year"),
        ({"km_per_year": np.timedelta64(1, "D")}, UsageError, "km_per_year"),
        ({"km_per_year": np.ma.masked}, UsageError, "km_per_year"),
        ({"km_per_year": [1_000]}, UsageError, "km_per_year"),
        ({"km_per_year": 1_000, "cap": 5}, CostError, "cap"),
        ({"km_per_year": 1_000, "max_risk": 0}, CostError, "max_risk"),
        ({"km_per_year": 1_000, "max_risk": 1.5}, CostError, "max_risk"),
        ({"km_per_year": 1_000, "max_risk": math.nan}, CostError, "max_risk"),
        ({"km_per_year": 1_000, "discount": -0.1}, CostError, "discount"),
    ],
)
@pytest.mark.filterwarnings("error")
def test_bad_input_names_the_field(arguments, error, field):
    with pytest.raises(error) as refused:
        best_interval(known_life(distance=(3.0, 60_000)), COSTS, **arguments)
    assert refused.value.field == field


@pytest.mark.parametrize("costs", [5, None, "x", (60, 340)])
def test_costs_must_be_costs(costs):
    with pytest.raises(CostError) as refused:
        best_interval(known_life(age=(3.0, 10.0)), costs)
    assert refused.value.field == "costs"


@pytest.mark.parametrize("life", ["x", None, 5])
def test_a_life_must_be_one(life):
    with pytest.raises(InputError) as refused:
        best_interval(life, COSTS, 1_000)
    assert refused.value.field == "life"


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(("scale", "discount"), [(1e-300, 0.0), (1e-12, 0.0), (1e11, 0.03)])
def test_a_life_of_less_than_a_second_or_of_ages_is_refused(scale, discount):
    with pytest.raises(InputError) as refused:
        best_interval(known_life(distance=(1000.0, scale)), COSTS, 10.0, discount=discount)
    assert refused.value.field == "life"


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("rate", [1e4, 1e9])
def test_a_sharp_life_is_renewed_just_before_its_end_without_a_warning(rate):
    # At a shape of 1000 hardly a part fails before 0.97 of its scale: 0.97^1000 = 6e-14.
    advice = best_interval(known_life(distance=(1000.0, 50_000)), COSTS, rate)
    assert 0.97 < advice.km / 50_000 < 1


def test_a_cap_in_km_without_a_yearly_distance_is_refused_rather_than_ignored():
    with pytest.raises(CostError) as refused:
        best_interval(known_life(age=(3.0, 10.0)), COSTS, cap=Cap(km=60_000))
    assert refused.value.field == "km_per_year"


def test_cost_curve_is_the_same_whatever_the_unit_of_time():
    fast = best_interval(known_life(age=(2.5, 1e-3)), COSTS)
    slow = best_interval(known_life(age=(2.5, 1e6)), COSTS)
    assert slow.years / fast.years == pytest.approx(1e9, rel=1e-6)


def test_the_reason_gives_both_clocks_the_costs_and_what_decides():
    life = uncertain_life()
    text = best_interval(life, COSTS, 2_000).reason
    assert "whichever comes first" in text
    assert "km" in text
    assert "running to failure about" in text
    assert "age does most of the wearing" in text
    assert "distance does most of the wearing" in best_interval(life, COSTS, 20_000).reason
    assert "nothing lengthens it" in best_interval(life, COSTS, 2_000, cap=Cap(years=4)).reason
    assert "carry a spare" in best_interval(life, Costs(60, 62), 2_000).reason
    assert "limit on risk" in best_interval(life, COSTS, 2_000, max_risk=0.02).reason


def test_a_discount_rate_makes_the_planned_cost_weigh_more():
    # a discount makes late failures count less than the renewal that prevents them: the interval only grows
    life = known_life(age=(3.0, 10.0))
    plain, discounted = best_interval(life, COSTS), best_interval(life, COSTS, discount=0.05)
    assert discounted.years > plain.years
    # by the definition: [cp·e^-δτ·S + cf·∫e^-δt f] / ∫e^-δt S, by the trapezium rule
    tau = discounted.years
    t = np.linspace(0, tau, 200_001)
    survival, weight = np.exp(-((t / 10) ** 3)), np.exp(-0.05 * t)
    density = 3 * t**2 / 1000 * survival
    cost = 60 * weight[-1] * survival[-1] + 340 * np.trapezoid(weight * density, t)
    assert discounted.cost_per_year == pytest.approx(cost / np.trapezoid(weight * survival, t), rel=1e-8)


def test_distances_are_worded_in_the_keepers_unit():
    rule = best_interval(uncertain_life(), Costs(60, 340), 16_093.44)
    said = reason_in_words(rule, ("distance", "age"), "mi").reason
    assert "at about 10,000 mi a year" in said
    assert " km" not in said
    assert f"about {rounded(rule.km / 1.609344)} mi or " in said
    assert " mi" not in rule.reason


def test_no_year_is_named_that_nobody_plans_for():
    rule = best_interval(known_life(distance=(2.5, 250_000)), Costs(60, 340), 500)
    assert rule.years > 100
    assert "more years than anybody plans at 500 km a year" in rule.reason
