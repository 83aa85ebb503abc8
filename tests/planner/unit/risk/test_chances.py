"""Chances of failing given good now, of a stop, and how they are said."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from planner.errors import InputError
from planner.life.model import known_life
from planner.risk import Chance, Exposure, car_risk, chance_in_words, failure_chance, odds
from tests.planner.unit.interval.test_best import uncertain_life


def test_a_known_life_gives_the_conditional_chance_with_no_range():
    # diesel fans, shape 1.0584, scale 26297 h: P(T <= 6000 | T > 4000) = 0.0704 (derived from the published fit of
    # Nelson 1982, p. 133; two routes)
    fan = known_life(age=(1.05844585, 26296.8453))
    chance = failure_chance(fan, km=None, years=4_000, more_km=None, more_years=2_000)
    assert chance.mean == pytest.approx(0.0704265727, rel=1e-5)
    assert chance.low == chance.high == pytest.approx(chance.mean)


def test_the_mean_and_range_are_over_the_draws():
    life = uncertain_life()
    chance = failure_chance(life, km=40_000, years=9, more_km=3_000, more_years=0.5)
    gained = life.cumulative_hazard_draws(km=43_000, years=9.5) - life.cumulative_hazard_draws(
        km=40_000, years=9
    )
    each = 1 - np.exp(-gained)
    assert chance.mean == pytest.approx(each.mean())
    assert np.mean(each < chance.low) == pytest.approx(0.1, abs=0.006)
    assert np.mean(each > chance.high) == pytest.approx(0.1, abs=0.006)
    assert chance.low < chance.mean < chance.high


def test_survival_so_far_speaks_for_the_long_lived_draws():
    life = uncertain_life()
    plain = failure_chance(life, km=150_000, years=20, more_km=5_000, more_years=1)
    proven = failure_chance(life, km=150_000, years=20, more_km=5_000, more_years=1, survived_counts=True)
    assert proven.mean < plain.mean
    used = life.cumulative_hazard_draws(km=150_000, years=20)
    ahead = life.cumulative_hazard_draws(km=155_000, years=21)
    exact = (
        1 - np.exp(-ahead).mean() / np.exp(-used).mean()
    )  # P(fail in the next stretch | good now), by Bayes
    assert proven.mean == pytest.approx(exact, rel=1e-9)


def test_a_new_part_may_be_bad_and_a_proven_one_is_not():
    life = known_life(age=(3.0, 10.0))
    fresh = failure_chance(life, km=None, years=0, more_km=None, more_years=1, new_part_fault=0.04)
    assert fresh.mean == pytest.approx(1 - 0.96 * math.exp(-0.001))
    run_in = failure_chance(life, km=None, years=0.5, more_km=None, more_years=1, new_part_fault=0.04)
    assert run_in.mean == pytest.approx(1 - math.exp(-(1.5**3 - 0.5**3) / 1000))


@pytest.mark.parametrize("field", ["km", "years", "more_km", "more_years"])
@pytest.mark.parametrize("value", [None, -1.0, math.nan, math.inf])
def test_bad_clocks_are_named(field, value):
    clocks = {"km": 1.0, "years": 1.0, "more_km": 1.0, "more_years": 1.0, field: value}
    with pytest.raises(InputError) as refused:
        failure_chance(uncertain_life(), **clocks)
    assert refused.value.field == field


def exposure(part, kind, life, stops, **changes):
    values = {"km": 40_000.0, "years": 8.0, "more_km": 3_000.0, "more_years": 0.5, **changes}
    return Exposure(part, kind, life, stops_car=stops, **values)


def test_a_cars_stop_chance_equals_the_sum_over_all_combinations():
    lives = [
        known_life(distance=(b, e), age=(a, y))
        for b, e, a, y in [(2, 6e4, 2, 9), (3, 9e4, 1.5, 12), (1.2, 2e5, 3, 7)]
    ]
    stops = (0.9, 0.4, 0.7)
    parts = [
        exposure(f"p{i}", f"k{i}", life, s) for i, (life, s) in enumerate(zip(lives, stops, strict=True))
    ]
    single = [
        s * failure_chance(life, km=4e4, years=8, more_km=3e3, more_years=0.5).mean
        for life, s in zip(lives, stops, strict=True)
    ]
    some = 0.0
    for outcome in itertools.product((0, 1), repeat=3):
        if any(outcome):
            some += math.prod(p if stopped else 1 - p for p, stopped in zip(single, outcome, strict=True))
    risk = car_risk(parts)
    assert risk.stop.mean == pytest.approx(some, rel=1e-12)
    assert [chance.mean for _, chance in risk.contributors] == pytest.approx(sorted(single, reverse=True))
    assert risk.contributors[0][0] == f"p{int(np.argmax(single))}"


def test_parts_of_one_kind_share_what_is_not_known_and_so_stop_less_often_than_independent_ones():
    life = uncertain_life(spread=(0.5, 0.8))
    shared = car_risk([exposure(f"cylinder {i}", "plug", life, 1.0) for i in range(6)])
    apart = car_risk([exposure(f"cylinder {i}", f"plug {i}", life, 1.0) for i in range(6)])
    each = 1 - np.exp(
        life.cumulative_hazard_draws(km=40_000, years=8) - life.cumulative_hazard_draws(km=43_000, years=8.5)
    )
    assert shared.stop.mean == pytest.approx(np.mean(1 - (1 - each) ** 6))
    assert apart.stop.mean == pytest.approx(1 - (1 - each.mean()) ** 6, rel=0.1)
    assert shared.stop.mean < apart.stop.mean


def test_a_cars_risk_does_not_depend_on_the_order_of_its_parts_and_empty_is_none():
    parts = [exposure(f"p{i}", f"k{i}", uncertain_life(seed=i), 0.5) for i in range(4)]
    assert car_risk(parts).stop.mean == pytest.approx(car_risk(parts[::-1]).stop.mean, rel=1e-12)
    assert car_risk([]).stop == Chance(0, 0, 0)


def test_lives_with_different_numbers_of_draws_can_share_a_car():
    short = uncertain_life(draws=50)
    known = known_life(distance=(2, 60_000), age=(2, 9))
    both = car_risk([exposure("a", "a", short, 1.0), exposure("b", "b", known, 1.0)])
    one, other = (
        car_risk([part]).stop.mean
        for part in (exposure("a", "a", short, 1.0), exposure("b", "b", known, 1.0))
    )
    assert both.stop.mean == pytest.approx(1 - (1 - one) * (1 - other), rel=1e-9)


def test_a_stop_chance_out_of_range_is_refused():
    with pytest.raises(InputError) as refused:
        car_risk([replace(exposure("rotor arm", "r", uncertain_life(), 0.5), stops_car=1.5)])
    assert refused.value.field == "rotor arm.stops_car"


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 in 1,000"), (0.0009, "less than 1 in 1,000"), (0.001, "1 in 1,000"), (1 / 11.8, "1 in 12"),
        (1 / 7, "1 in 7"), (1 / 333, "1 in 300"), (0.31, "1 in 3"), (0.5, "1 in 2"), (0.72, "7 in 10"),
        (0.9, "9 in 10"), (0.97, "nearly certain"), (1.0, "nearly certain"),
    ],
)  # fmt: skip
def test_odds_carry_no_false_precision(chance, words):
    assert odds(chance) == words


def test_odds_rise_with_the_chance_and_stay_within_a_quarter_of_it():
    for chance in np.geomspace(0.0011, 0.44, 300):
        said = 1 / float(odds(chance).removeprefix("1 in ").replace(",", ""))
        assert abs(math.log(said / chance)) < 0.26


def test_a_chance_is_said_with_its_range():
    assert Chance(1 / 12, 1 / 30, 1 / 6).words == "about 1 in 12 (between 1 in 30 and 1 in 6)"
    assert chance_in_words(0.0002, 0.0001, 0.0005) == "less than 1 in 1,000"
    assert chance_in_words(0.002, 0.0001, 0.02) == "about 1 in 500 (between less than 1 in 1,000 and 1 in 50)"
