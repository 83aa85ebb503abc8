"""Costs and caps refuse what makes no sense, naming the field; the strictest cap wins."""

import math

import pytest

from planner.errors import CostError
from planner.interval import NO_CAP, Cap, Costs, shortest


@pytest.mark.parametrize("field", ["planned", "failure"])
@pytest.mark.parametrize("value", [0, -1, math.nan, math.inf, "40", None, True])
def test_a_cost_must_be_a_positive_finite_amount(field, value):
    with pytest.raises(CostError) as refused:
        Costs(**{"planned": 10, "failure": 100, field: value})
    assert refused.value.field == field


def test_failure_cheaper_than_planned_work_is_refused_and_equal_is_not():
    with pytest.raises(CostError) as refused:
        Costs(planned=10, failure=9.99)
    assert refused.value.field == "failure"
    assert Costs(planned=10, failure=10).failure == 10


@pytest.mark.parametrize("value", [-0.01, 1.0, math.nan, "often"])
def test_new_part_fault_must_be_a_chance_below_one(value):
    with pytest.raises(CostError) as refused:
        Costs(planned=10, failure=100, new_part_fault=value)
    assert refused.value.field == "new_part_fault"


@pytest.mark.parametrize("field", ["km", "years"])
@pytest.mark.parametrize("value", [0, -5, math.nan, math.inf, "6"])
def test_a_cap_must_be_a_positive_finite_limit(field, value):
    with pytest.raises(CostError) as refused:
        Cap(**{field: value})
    assert refused.value.field == f"cap.{field}"


def test_the_shortest_cap_is_taken_clock_by_clock():
    assert shortest(Cap(km=96_000), Cap(years=6), None, Cap(km=80_000, years=10)) == Cap(km=80_000, years=6)
    assert shortest() == NO_CAP
    assert not NO_CAP.is_set


def test_a_cap_falls_on_the_path_where_the_first_clock_reaches_it():
    cap = Cap(km=60_000, years=6)
    assert cap.years_on_path(20_000) == 3
    assert cap.years_on_path(1_000) == 6
    assert cap.years_on_path(0) == 6
    assert NO_CAP.years_on_path(None) == math.inf
    with pytest.raises(CostError) as refused:
        cap.years_on_path(None)
    assert refused.value.field == "km_per_year"
