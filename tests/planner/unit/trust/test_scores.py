"""Scores by hand, censoring weighed out against a slow independent route, limits against exact ones."""

import math

import numpy as np
import pytest
from scipy import stats

from planner.trust.scores import Statements, by_car, calibration, difference, poisson_limits, scores, wilson
from planner.trust.weights import censoring_weights, groups_of_chance

FAILED = np.array([True, False, False, True])
CHANCE = np.array([0.8, 0.3, 0.1, 0.4])


def made(weight=(1.0, 1.0, 1.0, 1.0), chance=CHANCE, failed=FAILED, car=(0, 0, 1, 1), part=(0, 1, 2, 3)):
    said = np.arange(len(car))
    return Statements(
        np.array(car), np.array(part), said, np.asarray(chance), np.asarray(failed), np.array(weight)
    )


def test_scores_of_four_statements_by_hand():
    found = scores("mine", CHANCE, made())
    assert found.brier == pytest.approx((0.2**2 + 0.3**2 + 0.1**2 + 0.6**2) / 4)
    by_hand = -(math.log(0.8) + math.log(0.7) + math.log(0.9) + math.log(0.4)) / 4
    assert found.log == pytest.approx(by_hand)


def test_weights_count_as_repetition():
    twice = made(weight=(2.0, 1.0, 1.0, 0.0))
    long = made((1.0,) * 4, chance=[0.8, 0.8, 0.3, 0.1], failed=[True, True, False, False], part=(0, 0, 1, 2))
    for name in ("brier", "log"):
        assert getattr(scores("", twice.chance, twice), name) == pytest.approx(
            getattr(scores("", long.chance, long), name)
        )


def test_a_chance_of_nought_that_failed_costs_much_and_not_everything():
    surprised = made(chance=[0.0, 0.3, 0.1, 0.4])
    assert scores("", surprised.chance, surprised).log == pytest.approx(
        -(math.log(1e-6) + math.log(0.7) + math.log(0.9) + math.log(0.4)) / 4
    )


def test_the_error_of_a_difference_is_that_of_whole_cars():
    """Forty statements about each of ten cars, all alike within a car, are ten independent ones and not four hundred."""
    random = np.random.default_rng(3)
    failed = random.random(10) < 0.4
    one = made(np.ones(10), np.full(10, 0.4), failed, car=np.arange(10), part=np.arange(10))
    many = made(
        np.ones(400), np.full(400, 0.4), np.repeat(failed, 40), np.repeat(np.arange(10), 40), np.arange(400)
    )
    few, all_ = (difference("other", np.full(len(m.car), 0.5), m, seed=1) for m in (one, many))
    assert all_.brier == pytest.approx(few.brier)
    assert all_.brier_error == pytest.approx(few.brier_error, rel=1e-9)
    saved = (0.5 - failed) ** 2 - (0.4 - failed) ** 2
    assert few.brier_error == pytest.approx(
        saved.std() / math.sqrt(10), rel=0.1
    )  # the bootstrap's own formula


def test_one_car_gives_no_error():
    alone = made(car=(0, 0, 0, 0))
    assert difference("other", np.full(4, 0.5), alone, seed=1).log_error is None


def slow_weights(time, censored, weight):
    """Kaplan-Meier of being followed, row by row: what fails on a day is no longer there when others leave on it."""
    found = []
    for i in range(len(time)):
        followed = 1.0
        for t in sorted(set(time[censored])):
            if t >= time[i]:
                break
            there = sum(w for w, s, c in zip(weight, time, censored, strict=True) if s > t or (s == t and c))
            left = sum(w for w, s, c in zip(weight, time, censored, strict=True) if s == t and c)
            followed *= 1.0 - left / there
        found.append(0.0 if censored[i] else weight[i] / followed)
    return np.array(found)


@pytest.mark.parametrize("seed", range(5))
def test_censoring_weights_equal_a_slow_independent_route(seed):
    random = np.random.default_rng(seed)
    time = random.integers(1, 12, 60) / 12.0
    censored = (random.random(60) < 0.3) & (time < 1.0)
    weight = random.choice([0.25, 0.75, 1.0], 60)
    found, bounded = censoring_weights(time, censored, weight, np.zeros(60, dtype=np.int64))
    assert found == pytest.approx(slow_weights(time, censored, weight), rel=1e-9)
    assert not bounded.any()


def test_each_group_has_a_curve_of_its_own():
    random = np.random.default_rng(9)
    time, censored, weight = random.random(80), random.random(80) < 0.4, np.ones(80)
    group = np.repeat([0, 1], 40)
    found, _ = censoring_weights(time, censored, weight, group)
    apart = [slow_weights(*(c[group == g] for c in (time, censored, weight))) for g in (0, 1)]
    assert found == pytest.approx(np.concatenate(apart), rel=1e-9)
    together, _ = censoring_weights(time, censored, weight, np.zeros(80, dtype=np.int64))
    assert not np.allclose(found, together)


def test_weights_give_back_what_censoring_took():
    """Censored at random, the weighted share of failures is that of the uncensored rows; unweighted it is not."""
    random = np.random.default_rng(4)
    n, horizon = 20_000, 1.0
    life, leaves = random.exponential(2.0, n), random.exponential(1.0, n)
    time = np.minimum(np.minimum(life, leaves), horizon)
    censored = (leaves < life) & (leaves < horizon)
    found, _ = censoring_weights(time, censored, np.ones(n), np.zeros(n, dtype=np.int64))
    failed = (life <= leaves) & (life <= horizon)
    truth = 1.0 - math.exp(-0.5)
    assert found.sum() == pytest.approx(n, rel=0.02)
    assert found @ failed / found.sum() == pytest.approx(truth, abs=0.01)
    assert abs(failed[~censored].mean() - truth) > 0.05


def test_groups_need_enough_that_left():
    chance = np.linspace(0.0, 1.0, 200)
    few = np.arange(200) % 10 == 0
    assert set(groups_of_chance(chance, few, np.ones(200))) == {0}
    many = np.arange(200) % 2 == 0
    groups = groups_of_chance(chance, many, np.ones(200))
    assert set(groups) == {0, 1, 2, 3}
    assert (np.diff(groups) >= 0).all()


@pytest.mark.parametrize(("share", "count"), [(0.0, 12), (0.1, 30), (0.5, 7), (1.0, 40)])
def test_wilsons_limits_solve_their_equation(share, count):
    """The limits are where the normal test just does not reject: (share - p)² = z² p (1 - p) / n."""
    z = stats.norm.ppf(0.95)
    for p in wilson(share, count):
        if 1e-9 < p < 1.0 - 1e-9:
            assert (share - p) ** 2 == pytest.approx(z**2 * p * (1.0 - p) / count)
    low, high = wilson(share, count)
    assert low <= share <= high


@pytest.mark.parametrize("count", [0, 1, 3, 10, 40])
def test_byars_limits_are_near_the_exact_ones(count):
    low, high = poisson_limits(count)
    exact_low = stats.chi2.ppf(0.05, 2 * count) / 2.0 if count else 0.0
    exact_high = stats.chi2.ppf(0.95, 2 * count + 2) / 2.0
    assert low == pytest.approx(exact_low, abs=0.06)
    assert high == pytest.approx(exact_high, rel=0.02)


def test_calibration_counts_a_part_once_however_often_it_was_looked_at():
    random = np.random.default_rng(8)
    chance = random.uniform(0.05, 0.6, 100)
    failed = random.random(100) < chance
    once = made(np.ones(100), chance, failed, np.arange(100), np.arange(100))
    five = made(
        np.ones(500), np.repeat(chance, 5), np.repeat(failed, 5), np.repeat(np.arange(100), 5), np.repeat(np.arange(100), 5)
    )  # fmt: skip
    lines, again = calibration(once), calibration(five)
    assert len(lines) == len(again) == 10
    for a, b in zip(lines, again, strict=True):
        assert (a.parts, b.statements) == (b.parts, 5 * a.statements)
        assert b.observed.low == pytest.approx(a.observed.low)
        assert a.lowest <= a.stated <= a.highest
        assert a.observed.low <= a.observed.value <= a.observed.high
    assert sum(line.statements for line in lines) == 100


def test_few_parts_make_few_lines():
    assert len(calibration(made())) == 1


def test_sums_per_car():
    assert by_car(np.array([7, 3, 7]), np.array([[1.0], [2.0], [4.0]])).ravel().tolist() == [2.0, 5.0]


def test_one_curve_for_all_misjudges_where_a_plan_takes_out_those_with_the_highest_chances():
    random = np.random.default_rng(6)
    n = 20_000
    high = random.random(n) < 0.5
    chance = np.where(high, 0.6, 0.1)
    life = random.exponential(1.0, n) / -np.log1p(-chance)
    leaves = np.where(high, random.exponential(0.6, n), np.inf)
    time, censored = np.minimum(np.minimum(life, leaves), 1.0), leaves < np.minimum(life, 1.0)
    failed, weight = (life <= leaves) & (life <= 1.0), np.ones(n)
    group = groups_of_chance(chance, censored, weight)
    apart, _ = censoring_weights(time, censored, weight, group)
    together, _ = censoring_weights(time, censored, weight, np.zeros(n, dtype=np.int64))
    assert apart @ failed / apart.sum() == pytest.approx(0.35, abs=0.012)
    assert together @ failed / together.sum() < 0.31
