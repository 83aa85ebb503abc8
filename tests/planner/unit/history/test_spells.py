"""Spells: one encoding of every observation, checked at the door."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells
from planner.errors import SpellError

INF = np.inf


def test_kinds_of_rows_on_one_clock():
    spells = Spells.on_distance([100, 200, 50, 0], [100, INF, 80, 30])
    assert spells.exact.tolist() == [True, False, False, False]
    assert spells.censored.tolist() == [False, True, False, False]
    assert spells.interval.tolist() == [False, False, True, True]
    assert spells.clocks == ("distance",)
    assert len(spells) == 4


def test_exact_only_if_exact_on_both_clocks():
    spells = Spells.on_both([100, 100, 100], [100, 100, 150], [2, 2, 2], [2, 3, 2])
    assert spells.exact.tolist() == [True, False, False]
    assert spells.interval.tolist() == [False, True, True]


def test_rate_of_exact_rows_is_the_mean_over_the_spell():
    spells = Spells.on_both([900, 500], [900, INF], [3, 1], [3, INF], km_entry=[300, 0], years_entry=[1, 0])
    assert spells.km_per_year[0] == pytest.approx(300)
    assert np.isnan(spells.km_per_year[1])


def test_given_rate_is_kept():
    spells = Spells.on_both([900], [900], [3], [3], km_per_year=[120])
    assert spells.km_per_year.tolist() == [120]


def test_a_car_that_never_moved_can_fail_exactly_on_age():
    spells = Spells.on_both([0], [0], [2], [2])
    assert spells.exact.tolist() == [True]
    assert spells.km_per_year.tolist() == [0]


def test_weight_and_entry_may_be_one_number():
    spells = Spells.on_age([3, 4], [3, INF], entry=1, weight=2)
    assert spells.weight.tolist() == [2, 2]
    assert spells.years.entry.tolist() == [1, 1]


def test_the_callers_arrays_may_change_afterwards():
    lower = np.array([1.0, 2.0])
    spells = Spells.on_age(lower, lower)
    lower[:] = 9
    assert spells.years.lower.tolist() == [1, 2]
    with pytest.raises(ValueError, match="read-only"):
        spells.years.lower[0] = 5


def test_only_sees_a_standing_failure_as_exact_on_distance():
    spells = Spells.on_both([500], [500], [1], [2])
    assert spells.interval.tolist() == [True]
    assert spells.only("distance").exact.tolist() == [True]
    assert spells.only("age").interval.tolist() == [True]


def test_take_and_concat():
    spells = Spells.on_both([1, 2, 3], [1, INF, 3], [1, 2, 3], [1, INF, 3])
    again = Spells.concat([spells.take(spells.exact), spells.take([1])])
    assert again.km.lower.tolist() == [1, 3, 2]
    assert again.km_per_year[:2].tolist() == [1, 1]
    with pytest.raises(SpellError, match="at least one row"):
        spells.take(np.zeros(3, dtype=bool))
    with pytest.raises(SpellError, match="same clocks"):
        Spells.concat([spells, spells.only("age")])
    with pytest.raises(SpellError, match="at least one Spells"):
        Spells.concat([])
    with pytest.raises(SpellError, match="clock"):
        spells.only("age").only("distance")


ONE_CLOCK = [
    ("lower", {"lower": [], "upper": []}),
    ("lower", {"lower": [[1]], "upper": [[1]]}),
    ("lower", {"lower": ["x"], "upper": [1]}),
    ("lower", {"lower": [np.nan], "upper": [1]}),
    ("lower", {"lower": [INF], "upper": [INF]}),
    ("lower", {"lower": [-1], "upper": [1]}),
    ("lower", {"lower": [1], "upper": [2], "entry": [1.5]}),
    ("upper", {"lower": [1], "upper": [1, 2]}),
    ("upper", {"lower": [2], "upper": [1]}),
    ("upper", {"lower": [2], "upper": [np.nan]}),
    ("upper", {"lower": [0], "upper": [0]}),
    ("entry", {"lower": [1], "upper": [2], "entry": [-1]}),
    ("entry", {"lower": [1], "upper": [2], "entry": [np.nan]}),
    ("entry", {"lower": [1], "upper": [2], "entry": [0, 0]}),
    ("weight", {"lower": [1], "upper": [2], "weight": [0]}),
    ("weight", {"lower": [1], "upper": [2], "weight": [-1]}),
    ("weight", {"lower": [1], "upper": [2], "weight": [INF]}),
    ("weight", {"lower": [1], "upper": [2], "weight": [np.nan]}),
    ("weight", {"lower": [1, 1], "upper": [2, 2], "weight": [1e308, 1e308]}),
]


@pytest.mark.parametrize(("field", "given"), ONE_CLOCK)
@pytest.mark.parametrize("make", [Spells.on_distance, Spells.on_age])
def test_bad_columns_are_named(make, field, given):
    with pytest.raises(SpellError) as refusal:
        make(**given)
    assert refusal.value.field == field


TWO_CLOCKS = [
    ("km_upper", {"km_upper": [INF]}),
    ("km_upper", {"years_upper": [INF]}),
    ("years_lower", {"years_lower": [1, 2], "years_upper": [2, 3]}),
    ("years_lower", {"years_lower": [0.5], "years_entry": [1]}),
    ("km_lower", {"km_lower": [5], "km_entry": [7]}),
    ("km_per_year", {"km_per_year": [np.nan]}),
    ("km_per_year", {"km_per_year": [-1]}),
    ("km_per_year", {"km_per_year": [INF]}),
    ("km_per_year", {"years_entry": [2], "km_entry": [5]}),
    ("km_per_year", {"km_lower": [0], "km_upper": [0], "km_per_year": [10]}),
    ("years_upper", {"years_lower": [0], "years_upper": [0], "km_per_year": [1]}),
]


@pytest.mark.parametrize(("field", "changed"), TWO_CLOCKS)
def test_bad_columns_on_two_clocks_are_named(field, changed):
    given = {"km_lower": [10], "km_upper": [10], "years_lower": [2], "years_upper": [2], **changed}
    with pytest.raises(SpellError) as refusal:
        Spells.on_both(**given)
    assert refusal.value.field == field


def test_rows_in_order_are_the_same_rows_whatever_order_they_came_in():
    rows = Spells.on_both([5, 3, 3, 9], [5, INF, 7, 9], [1, 2, 2, 4], [1, INF, 3, 4], weight=[1, 2, 1, 0.5])
    turned = rows.take([2, 0, 3, 1])
    for one, other in zip(rows.in_order().bounds, turned.in_order().bounds, strict=True):
        assert one.lower.tolist() == other.lower.tolist()
        assert one.upper.tolist() == other.upper.tolist()
    assert rows.in_order().weight.tolist() == turned.in_order().weight.tolist() == [1, 2, 1, 0.5]
    assert turned.weight.tolist() == [1, 1, 0.5, 2]
