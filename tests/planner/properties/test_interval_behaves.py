"""Intervals follow the costs, the limits and the units they are given, whatever the life."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.interval import Cap, Costs, best_interval
from planner.life.model import known_life
from planner.units import KM_PER_MILE

PLAN = settings(max_examples=120, deadline=None)


@st.composite
def lives(draw):
    """Lives on one or both clocks with a few draws around a middle, from infant to sharp."""
    middle = [
        draw(st.floats(-0.4, 1.7)),
        draw(st.floats(9, 13)),
        draw(st.floats(-0.4, 1.7)),
        draw(st.floats(0, 4)),
    ]
    scatter = np.random.default_rng(draw(st.integers(0, 99))).normal(size=(8, 4)) * 0.3
    draws = np.array(middle) + scatter
    clocks = draw(st.sampled_from(["both", "distance", "age"]))
    first = np.exp(middle)
    if clocks == "both":
        return replace(known_life(distance=first[:2], age=first[2:]), draws=draws)
    if clocks == "distance":
        return replace(known_life(distance=first[:2]), draws=draws[:, :2])
    return replace(known_life(age=first[2:]), draws=draws[:, 2:])


rates = st.sampled_from([80.0, 1_400.0, 9_000.0])
ratios = st.floats(1.0, 80.0)


@PLAN
@given(lives(), rates, ratios, st.floats(1e-3, 1e3))
def test_only_the_ratio_of_the_costs_decides(life, rate, ratio, unit):
    one, other = (best_interval(life, Costs(c, c * ratio), rate) for c in (10.0, 10.0 * unit))
    assert one.run_to_failure == other.run_to_failure
    if not one.run_to_failure:
        assert np.isclose(other.years, one.years, rtol=1e-4)
    assert np.isclose(other.cost_per_year, unit * one.cost_per_year, rtol=1e-9)


@PLAN
@given(lives(), rates, ratios)
def test_following_the_advice_never_costs_more_than_running_to_failure(life, rate, ratio):
    rule = best_interval(life, Costs(10, 10 * ratio), rate)
    assert rule.cost_per_year <= rule.cost_run_to_failure * (1 + 1e-9)
    low, high = rule.within_5_percent
    assert low <= rule.years <= high


@PLAN
@given(lives(), rates, ratios, st.floats(1.05, 4))
def test_a_dearer_failure_never_lengthens_the_interval(life, rate, ratio, dearer):
    cheap, dear = (best_interval(life, Costs(10, 10 * ratio * by), rate, plug_in=True) for by in (1, dearer))
    assert dear.years <= cheap.years * (1 + 1e-4)


@PLAN
@given(
    lives(),
    rates,
    ratios,
    st.none() | st.floats(0.02, 0.6),
    st.none() | st.floats(0.2, 30),
    st.floats(0.3, 0.99),
)
def test_stricter_limits_never_lengthen_the_interval(life, rate, ratio, max_risk, cap_years, stricter):
    costs = Costs(10, 10 * ratio)
    loose = best_interval(life, costs, rate, max_risk, Cap(years=cap_years))
    tight_risk = None if max_risk is None else max_risk * stricter
    tight = best_interval(
        life, costs, rate, tight_risk, Cap(years=None if cap_years is None else cap_years * stricter)
    )
    free = best_interval(life, costs, rate)
    if max_risk is not None and loose.bound_by != "run to failure":
        assert loose.chance_by_then <= max_risk + 1e-6
    if cap_years is not None:
        assert loose.years <= cap_years
    if loose.bound_by in {"cap", "risk"}:
        assert tight.years <= loose.years * (1 + 1e-9)
    if free.run_to_failure:
        assert loose.bound_by in {"cap", "risk", "run to failure"}


@PLAN
@given(lives(), rates, ratios)
def test_miles_give_the_same_years_as_kilometres(life, rate, ratio):
    if "distance" not in life.clocks:
        return
    in_miles = life.draws.copy()
    in_miles[:, 1] -= np.log(KM_PER_MILE)
    shape, scale = life.distance.shape, life.distance.scale / KM_PER_MILE
    age = None if life.age is None else (life.age.shape, life.age.scale)
    miles = replace(known_life(distance=(shape, scale), age=age), draws=in_miles)
    costs = Costs(10, 10 * ratio)
    by_km, by_mile = best_interval(life, costs, rate), best_interval(miles, costs, rate / KM_PER_MILE)
    assert by_km.run_to_failure == by_mile.run_to_failure
    if not by_km.run_to_failure:
        assert np.isclose(by_mile.years, by_km.years, rtol=1e-5)
        assert np.isclose(by_mile.km * KM_PER_MILE, by_km.km, rtol=1e-5)


@PLAN
@given(lives(), ratios, st.floats(60, 9_000), st.floats(1.0, 5.0))
def test_driving_more_never_costs_less_to_run_to_failure(life, ratio, rate, more):
    costs = Costs(10, 10 * ratio)
    slow, fast = best_interval(life, costs, rate), best_interval(life, costs, rate * more)
    assert fast.cost_run_to_failure >= slow.cost_run_to_failure * (1 - 1e-6)
