"""Tables over yearly distance agree with direct optimisation, between their points and outside them."""

import json
import math

import numpy as np
import pytest

from planner.errors import CostError, UsageError
from planner.interval import Cap, Costs, IntervalTable, best_interval, interval_table
from planner.interval.advice import BOUNDS
from planner.life.model import known_life
from tests.planner.unit.interval.test_best import uncertain_life

CASES = [
    (Costs(60, 340), None, None),
    (Costs(24, 416, 0.03), Cap(km=50_000, years=8), None),
    (Costs(60, 340), None, 0.05),
    (Costs(60, 340), Cap(km=40_000), 0.1),
    (Costs(60, 64), None, None),
]


@pytest.mark.parametrize(("costs", "cap", "max_risk"), CASES)
def test_between_its_points_a_table_is_within_half_a_percent(costs, cap, max_risk):
    life = uncertain_life()
    table = interval_table(life, costs, cap=cap, max_risk=max_risk)
    for rate in np.exp(np.random.default_rng(4).uniform(np.log(50), np.log(60_000), 25)):
        near, exact = table.at(rate), best_interval(life, costs, rate, cap=cap, max_risk=max_risk)
        tied = {near.bound_by, exact.bound_by} == {"risk", "cap"}  # the two limits within half a percent
        assert near.bound_by == exact.bound_by or tied
        assert near.cost_run_to_failure == pytest.approx(exact.cost_run_to_failure, rel=0.005)
        assert near.cost_per_year == pytest.approx(exact.cost_per_year, rel=0.015)
        if math.isfinite(exact.years):
            assert near.years == pytest.approx(exact.years, rel=0.005)
            assert near.km == pytest.approx(rate * near.years)
            assert near.within_5_percent == pytest.approx(exact.within_5_percent, rel=0.02)
        if cap is not None and cap.km is not None:
            assert near.km <= cap.km * (1 + 1e-12)


def test_outside_the_grid_distance_alone_scales_exactly():
    life, costs = known_life(distance=(2.5, 60_000)), Costs(10, 60)
    table = interval_table(life, costs)
    for rate in (3.0, 250_000.0):
        exact = best_interval(life, costs, rate)
        assert table.at(rate).km == pytest.approx(exact.km, rel=1e-5)
        assert table.at(rate).cost_per_year == pytest.approx(exact.cost_per_year, rel=1e-5)
    assert table.at(0).run_to_failure


def test_outside_the_grid_two_clocks_are_never_given_longer():
    life, costs = uncertain_life(), Costs(60, 340)
    table = interval_table(life, costs)
    for rate in (0.0, 5.0, 90_000.0, 400_000.0):
        assert table.at(rate).years <= best_interval(life, costs, rate).years * (1 + 1e-3)


def test_arrays_give_what_single_questions_give():
    table = interval_table(uncertain_life(), Costs(60, 340), cap=Cap(km=50_000, years=10), max_risk=0.2)
    rates = np.array([[0.0, 700.0], [5_500.0, 70_000.0]])
    columns = table.columns(rates)
    for place in np.ndindex(rates.shape):
        one = table.at(float(rates[place]))
        assert columns.years[place] == one.years
        assert columns.cost_per_year[place] == one.cost_per_year
        assert BOUNDS[columns.bound_by[place]] == one.bound_by


def test_a_table_survives_json():
    table = interval_table(uncertain_life(), Costs(60, 64), cap=Cap(km=50_000))
    back = IntervalTable.from_dict(json.loads(json.dumps(table.to_dict(), allow_nan=False)))
    for rate in (0.0, 80.0, 1_400.0, 30_000.0):
        assert back.at(rate) == table.at(rate)
    with pytest.raises(CostError):
        IntervalTable.from_dict({**table.to_dict(), "schema": 99})


def test_bad_rates_are_refused():
    life, costs = known_life(age=(3.0, 10.0)), Costs(10, 60)
    for rates in ([1_000], [2_000, 1_000], [0, 1_000], [100, math.nan], [[100, 200]]):
        with pytest.raises(CostError) as refused:
            interval_table(life, costs, rates=rates)
        assert refused.value.field == "rates"
    with pytest.raises(UsageError):
        interval_table(life, costs).at(-5)
