"""Spells: one encoding of every observation, checked at the door."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pandas as pd
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


NO_NUMBERS = {
    "masked": np.ma.array([1.0, 2.0], mask=[False, True]),
    "a masked value in a list": [1.0, np.ma.masked],
    "days": np.array(["2020-01-01", "2021-01-01"], dtype="datetime64[D]"),
    "days of a table": pd.Series(pd.to_datetime(["2020-01-01", "2021-01-01"])),
    "days with a zone": pd.Series(pd.to_datetime(["2020-01-01", "2021-01-01"], utc=True)),
    "spans of days": np.array([1, 2], dtype="timedelta64[D]"),
    "days among objects": np.array([np.datetime64("2020-01-01"), 2.0], dtype=object),
    "spans among objects": np.array([np.timedelta64(1, "D"), 2.0], dtype=object),
    "complex": [1 + 1j, 2],
    "too large": [1, 10**400],
    "texts": ["1", "2"],
    "truth values": [True, True],
    "ragged": [[1.0], [1.0, 2.0]],
}


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("values", NO_NUMBERS.values(), ids=NO_NUMBERS.keys())
@pytest.mark.parametrize("field", ["km_lower", "km_upper", "years_entry", "weight", "km_per_year"])
def test_what_is_no_number_is_refused_by_name_and_without_a_warning(field, values):
    given = {
        "km_lower": [3, 4],
        "km_upper": [3, 4],
        "years_lower": [3, 4],
        "years_upper": [3, 4],
        field: values,
    }
    with pytest.raises(SpellError) as refusal:
        Spells.on_both(**given)
    assert refusal.value.field == field


def test_numbers_of_any_kind_are_taken():
    for values in (
        pd.Series([1, 2]),
        np.array([1, 2], dtype=np.uint8),
        (Decimal(1), 2.0),
        np.array([1, 2.0], dtype=object),
    ):
        assert Spells.on_age(values, values).years.lower.tolist() == [1, 2]


TWO_CLOCKS = [
    (
        "km_per_year",
        {"km_lower": [1e300], "km_upper": [1e300], "years_lower": [1e-300], "years_upper": [1e-300]},
    ),
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


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize(("field", "changed"), TWO_CLOCKS)
def test_bad_columns_on_two_clocks_are_named(field, changed):
    given = {"km_lower": [10], "km_upper": [10], "years_lower": [2], "years_upper": [2], **changed}
    with pytest.raises(SpellError) as refusal:
        Spells.on_both(**given)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    "rows",
    [
        [],
        [3],
        [-4],
        [True, False],
        "x",
        [0.0],
        1,
        [[0]],
        None,
        ["a"],
        [[0], [1, 2]],
        np.ma.array([0, 1], mask=[0, 1]),
    ],
)
def test_rows_that_spells_do_not_have_are_refused(rows):
    with pytest.raises(SpellError) as refusal:
        Spells.on_age([1, 2, 3], [1, 2, 3]).take(rows)
    assert refusal.value.field == "rows"


def test_rows_may_be_counted_from_the_end_and_masked_by_a_column():
    spells = Spells.on_age([1, 2, 3], [1, 2, 3])
    assert spells.take([-1, 0]).years.lower.tolist() == [3, 1]
    assert spells.take(pd.Series([True, False, True])).years.lower.tolist() == [1, 3]


@pytest.mark.parametrize(
    "parts", ["ab", [1, 2], 5, None, Spells.on_age([1], [1]), [Spells.on_age([1], [1]), "b"]]
)
def test_only_spells_are_put_together(parts):
    with pytest.raises(SpellError) as refusal:
        Spells.concat(parts)
    assert refusal.value.field == "parts"


def test_rows_in_order_are_the_same_rows_whatever_order_they_came_in():
    rows = Spells.on_both([5, 3, 3, 9], [5, INF, 7, 9], [1, 2, 2, 4], [1, INF, 3, 4], weight=[1, 2, 1, 0.5])
    turned = rows.take([2, 0, 3, 1])
    for one, other in zip(rows.in_order().bounds, turned.in_order().bounds, strict=True):
        assert one.lower.tolist() == other.lower.tolist()
        assert one.upper.tolist() == other.upper.tolist()
    assert rows.in_order().weight.tolist() == turned.in_order().weight.tolist() == [1, 2, 1, 0.5]
    assert turned.weight.tolist() == [1, 1, 0.5, 2]
