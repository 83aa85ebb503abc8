"""How many will fail: the Poisson-binomial law, exactly, and its quantile when the parts share what is not known."""

import itertools
import math

import numpy as np
import pytest

from planner.errors import InputError
from planner.life.model import known_life
from planner.risk.exposure import Exposure, chance_draws
from planner.risk.spares import poisson_binomial, stock_needed
from tests.planner.unit.interval.test_best import uncertain_life


def test_three_unequal_events_by_hand():
    # 0.9·0.8·0.7 = 0.504; 0.1·0.8·0.7 + 0.9·0.2·0.7 + 0.9·0.8·0.3 = 0.398; 0.092; 0.1·0.2·0.3 = 0.006
    assert poisson_binomial([0.1, 0.2, 0.3]) == pytest.approx([0.504, 0.398, 0.092, 0.006], abs=1e-15)


def test_equal_events_are_binomial():
    from scipy.stats import binom

    assert poisson_binomial(np.full(30, 0.07)) == pytest.approx(binom.pmf(np.arange(31), 30, 0.07), abs=1e-14)


def test_it_equals_the_inverse_fourier_transform_of_its_characteristic_function():
    # an independent route: Hong 2013, Computational Statistics & Data Analysis 59:41-51 (method, from memory)
    p = np.random.default_rng(5).random(60)
    n = len(p)
    turns = np.exp(2j * np.pi * np.arange(n + 1) / (n + 1))
    by_fourier = np.fft.fft(np.prod(1 - p + p * turns[:, None], axis=1)).real / (n + 1)
    assert poisson_binomial(p) == pytest.approx(by_fourier, abs=1e-13)


def test_it_equals_adding_up_every_outcome_per_draw():
    p = np.random.default_rng(6).random((3, 5))
    for row, law in zip(p, poisson_binomial(p), strict=True):
        by_count = np.zeros(6)
        for outcome in itertools.product((0, 1), repeat=5):
            by_count[sum(outcome)] += math.prod(x if o else 1 - x for x, o in zip(row, outcome, strict=True))
        assert law == pytest.approx(by_count, abs=1e-14)


def fleet(life, count):
    return [Exposure(f"part {i}", "kind", life, 4_000.0 * i, 1.0 * i, 4_000.0, 1.0) for i in range(count)]


def test_a_plug_in_of_the_mean_chances_comes_out_too_small():
    life = uncertain_life(spread=(0.4, 0.7), draws=400)
    exposures = fleet(life, 40)
    stock = stock_needed(exposures)
    draws = [chance_draws(life, (e.km, e.years), (e.more_km, e.more_years)) for e in exposures]
    plug_in = poisson_binomial([each.mean() for each in draws])
    assert stock.expected == pytest.approx(sum(each.mean() for each in draws))
    assert stock.expected == pytest.approx(plug_in @ np.arange(41))
    assert stock.needed > int(np.searchsorted(np.cumsum(plug_in), 0.95)) + 1
    assert stock.chances.sum() == pytest.approx(1)
    assert stock.chances[: stock.needed + 1].sum() >= 0.95 > stock.chances[: stock.needed].sum()


def test_a_simulated_fleet_wants_no_more_than_the_stock_19_times_in_20():
    life = uncertain_life(spread=(0.4, 0.7), draws=400)
    exposures = fleet(life, 30)
    stock = stock_needed(exposures)
    rng = np.random.default_rng(1)
    p = np.stack([chance_draws(life, (e.km, e.years), (e.more_km, e.more_years)) for e in exposures], axis=1)
    wanted = (rng.random((20_000, 30)) < p[rng.integers(0, 400, 20_000)]).sum(axis=1)
    assert np.mean(wanted <= stock.needed) >= 0.945
    assert np.mean(wanted <= stock.needed - 1) < 0.955


def test_planned_renewals_are_certain():
    life = known_life(distance=(2, 60_000), age=(2, 9))
    some = stock_needed(fleet(life, 10), planned=7)
    none = stock_needed(fleet(life, 10))
    assert some.expected == pytest.approx(none.expected + 7)
    assert some.needed == none.needed + 7
    assert stock_needed([], planned=3).needed == 3
    assert stock_needed([]).needed == 0


def test_bad_input_names_the_field():
    for chances in ([1.2], [-0.1], [math.nan], 0.5):
        with pytest.raises(InputError) as refused:
            poisson_binomial(chances)
        assert refused.value.field == "chances"
    with pytest.raises(InputError) as refused:
        stock_needed([], planned=-1)
    assert refused.value.field == "planned"
    with pytest.raises(InputError) as refused:
        stock_needed([], enough=1.0)
    assert refused.value.field == "enough"
