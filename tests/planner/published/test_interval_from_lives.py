"""Age replacement straight from recorded lives: the total-time-on-test optimum."""

import math

import numpy as np
import pytest

from planner.errors import SpellError
from planner.interval import Costs
from planner.interval.from_lives import best_from_curve, empirical_curve

# Barlow & Campo 1975: lives of 107 right rear brakes of tractors, hours
BRAKES = [
    56, 83, 104, 116, 244, 305, 429, 452, 453, 503, 552, 614, 661, 673, 683, 685, 753, 763, 806, 834, 838, 862, 897,
    904, 981, 1007, 1008, 1049, 1069, 1107, 1125, 1141, 1153, 1154, 1193, 1201, 1253, 1313, 1329, 1347, 1454, 1464,
    1490, 1491, 1532, 1549, 1568, 1574, 1586, 1599, 1608, 1723, 1769, 1795, 1927, 1957, 2005, 2010, 2016, 2022, 2037,
    2065, 2096, 2139, 2150, 2156, 2160, 2190, 2210, 2220, 2248, 2285, 2325, 2337, 2351, 2437, 2454, 2546, 2565, 2584,
    2624, 2675, 2701, 2755, 2877, 2879, 2922, 2986, 3092, 3160, 3185, 3191, 3439, 3617, 3685, 3756, 3826, 3995, 4007,
    4159, 4300, 4487, 5074, 5579, 5623, 6869, 7739,
]  # fmt: skip


def test_tractor_brakes_at_a_cost_ratio_of_five():
    # derived by comparing order statistics and by the tangent to the total-time-on-test plot (Bergman 1977)
    assert len(BRAKES) == 107
    interval, cost = best_from_curve(*empirical_curve(BRAKES), Costs(planned=1, failure=5))
    assert interval == 1454
    assert cost * 1000 == pytest.approx(2.0678759, abs=5e-8)  # half of the last digit given


def test_the_tangent_to_the_total_time_on_test_plot_gives_the_same():
    lives = np.array(sorted(BRAKES), dtype=float)
    n = len(lives)
    on_test = np.concatenate(([0], np.cumsum(np.diff(lives, prepend=0) * np.arange(n, 0, -1)))) / lives.sum()
    slopes = on_test / (np.arange(n + 1) / n + 1 / (5 - 1))
    # the plot's point i/n is renewal at the i-th life; just before the next order statistic is the point before it
    before = on_test[1:] / (np.arange(n) / n + 1 / (5 - 1))
    assert before.max() >= slopes.max()
    assert lives[int(before.argmax())] == 1454


def test_one_life_and_sharp_lives():
    costs = Costs(planned=1, failure=5)
    assert best_from_curve(*empirical_curve([10.0]), costs) == (10.0, pytest.approx(0.1))
    assert best_from_curve(*empirical_curve([10.0, 10.0, 10.0]), costs)[0] == 10.0


def test_lives_that_do_not_wear_are_run_to_failure():
    lives = -np.log(1 - (np.arange(1, 4001) - 0.5) / 4000)
    interval, cost = best_from_curve(*empirical_curve(lives), Costs(planned=1, failure=1.2))
    assert interval == math.inf or np.mean(lives > interval) < 0.05
    assert cost == pytest.approx(1.2, rel=0.02)


@pytest.mark.parametrize("lives", [[], [0.0], [-1.0], [math.nan], [math.inf], [[1.0]]])
def test_bad_lives_are_refused(lives):
    with pytest.raises(SpellError):
        empirical_curve(lives)


@pytest.mark.parametrize(
    ("times", "survival"),
    [([2, 1], [0.5, 0]), ([1, 2], [0.2, 0.5]), ([1], [0.5, 0]), ([0, 1], [0.5, 0]), ([], [])],
)
def test_bad_curves_are_refused(times, survival):
    with pytest.raises(SpellError):
        best_from_curve(times, survival, Costs(1, 5))


def test_a_weibull_fitted_to_the_brakes_advises_something_near():
    # the fit (shape 1.48558287, scale 2238.59898 h, three routes) gives T* = 1540.48098 by root and by quadrature
    from planner.history.spells import Spells
    from planner.interval import best_interval
    from planner.life.fit import fit_life

    life = fit_life(Spells.on_age(BRAKES, BRAKES))
    rule = best_interval(life, Costs(planned=1, failure=5), plug_in=True)
    assert rule.years == pytest.approx(1540.48098, rel=2e-5)
