"""A life times a multiplier known to within limits: hazards multiplied on average, the doubt kept; what the doors of cars refuse."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from planner import ClockPrior, LifePrior, Spells
from planner.errors import InputError, SpellError
from planner.life.cars.frailty import car_multiplier, fit_with_cars, life_on_car
from planner.life.cars.times_life import life_times
from planner.life.model import known_life

PLAIN = known_life(distance=(2.0, 50_000.0), age=(1.5, 20.0))
MANY = np.repeat(PLAIN.draws, 2_000, axis=0)
TWO = Spells.on_age([3.0, 4.0], [3.0, 4.0])
HEAVY = Spells.on_age([3.0, 4.0], [3.0, 4.0], weight=1e300)
AGED = known_life(age=(1, 2))


def test_hazards_are_multiplied_at_the_estimate_and_on_average():
    from dataclasses import replace

    own = life_times(replace(PLAIN, draws=MANY), 1.6, 1.0, 2.3)
    plain = float(PLAIN.cumulative_hazard(km=20_000.0, years=5.0))
    assert float(own.cumulative_hazard(km=20_000.0, years=5.0)) == pytest.approx(1.6 * plain)
    drawn = own.cumulative_hazard_draws(km=20_000.0, years=5.0)
    assert drawn.mean() == pytest.approx(1.6 * plain, rel=0.005)
    low, high = np.quantile(drawn / plain, [0.1, 0.9])
    assert high / low == pytest.approx(2.3, rel=0.01)


def test_no_doubt_leaves_none():
    own = life_times(PLAIN, 1.3, 1.3, 1.3)
    assert float(own.cumulative_hazard_draws(km=1e4, years=2.0)[0]) == pytest.approx(
        1.3 * float(PLAIN.cumulative_hazard(km=1e4, years=2.0))
    )


@pytest.mark.parametrize(
    ("mean", "low", "high"),
    [
        (0.0, 1.0, 2.0),
        (1.0, 0.0, 2.0),
        (1.0, 2.0, 1.0),
        (1.0, 1.0, np.inf),
        (np.nan, 1.0, 2.0),
        ("x", 1.0, 2.0),
        (1.0, None, 2.0),
    ],
)
def test_limits_that_make_no_sense_are_refused(mean, low, high):
    with pytest.raises(InputError):
        life_times(PLAIN, mean, low, high)


@pytest.mark.parametrize(
    "cars",
    [
        np.ma.array([1, 2], mask=[0, 1]),
        [pd.NA, "a"],
        pd.Series([1.0, None]),
        [("a", ["b"]), "b"],
        "ab",
        np.array(5),
    ],
)
def test_rows_without_a_cars_name_are_refused(cars):
    with pytest.raises(SpellError) as refused:
        fit_with_cars(TWO, cars, LifePrior(age=ClockPrior(4, 8)))
    assert refused.value.field == "car"


def test_cars_may_be_a_column_of_a_table():
    fits = [
        fit_with_cars(TWO, cars, LifePrior(age=ClockPrior(4, 8)), draws=20)
        for cars in (pd.Series(["x", "y"], index=[7, 8]), ["x", "y"])
    ]
    assert fits[0].spread == fits[1].spread


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: fit_with_cars(HEAVY, [1, 2], LifePrior(age=ClockPrior(4, 8))), SpellError, "weight"),
        (lambda: car_multiplier(TWO, None, 5.0), InputError, "life"),
        (lambda: life_on_car(TWO, "x", 5.0), InputError, "life"),
        (lambda: life_on_car("x", AGED, 5.0), SpellError, "spells"),
        (lambda: car_multiplier(TWO, AGED, np.ma.array([1.0], mask=[1])), InputError, "shape"),
        (lambda: life_times(None, 1.0, 1.0, 1.0), InputError, "life"),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field
