"""Repeated renewals: mean cumulative function, trend tests and power law against published values."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import SpellError
from planner.life.second_opinions.recurrence import Watched, duane_slope, mean_cumulative, power_law, trend

# MatthewReid854/reliability docs, "Mean cumulative function": five systems, the last number is where the watch ended.
FIVE = [
    Watched((5, 10, 15), 17),
    Watched((6, 13, 17), 19),
    Watched((12, 20, 25), 26),
    Watched((13, 15), 24),
    Watched((16, 22, 25), 28),
]

# Crow 1975, AMSAA TR-138; MIL-HDBK-189 appendix C (from memory, consistent): hours, ended with the last failure.
CROW = [
    0.7, 3.7, 13.2, 17.6, 54.5, 99.2, 112.2, 120.9, 151.0, 163.0, 174.5, 191.6, 282.8, 355.2, 486.3, 490.5, 513.3, 558.4,
    678.1, 688.0, 785.9, 887.0, 1010.7, 1029.1, 1034.4, 1136.1, 1178.9, 1259.7, 1297.9, 1419.7, 1571.7, 1629.8, 1702.4,
    1928.9, 2072.3, 2525.2, 2928.5, 3016.4, 3181.0, 3256.3,
]  # fmt: skip

# MatthewReid854/reliability docs, "Reliability growth".
GROWTH = [
    2.7, 10.3, 12.5, 30.6, 57, 61.3, 80, 109.5, 125, 128.6, 143.8, 167.9, 229.2, 296.7, 320.6, 328.2, 366.2, 396.7,
    421.1, 438.2, 501.2, 620,
]  # fmt: skip

# MatthewReid854/reliability tests/test_Repairable_systems.py: times between failures.
BETWEEN = [
    104, 131, 1597, 59, 4, 503, 157, 6, 118, 173, 114, 62, 101, 216, 106, 140, 1, 102, 3, 393, 96, 232, 89, 61, 37, 293,
    7, 165, 87, 99,
]  # fmt: skip

# NIST/SEMATECH e-Handbook 8.2.3.4 and 8.4.5.2 (times and results from memory): 10 repairs in 1500 h.
NIST = [5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478]


@pytest.mark.parametrize(("t", "mean"), [(5, 0.2), (13, 1.2), (17, 2.0), (20, 7 / 3), (25, 11 / 3)])
def test_mean_number_of_renewals_of_five_systems(t, mean):
    assert mean_cumulative(FIVE).at(t) == pytest.approx(mean, rel=1e-12)


def test_variance_of_independent_increments_is_the_documented_one():
    found = mean_cumulative(FIVE, spread="independent increments")
    assert found.variance[found.times == 20] == pytest.approx(0.394074, abs=6e-7)
    assert found.variance[-1] == pytest.approx(0.718148, abs=6e-7)


def test_robust_variance_without_censoring_is_the_variance_of_the_counts():
    # All watched to the end: the mean is the average count, its variance that of the counts over n (Lawless & Nadeau 1995).
    counts = [7, 0, 1, 0, 2]
    cars = [Watched(tuple(k + i / 10 + 0.01 for k in range(n)), 50) for i, n in enumerate(counts)]
    robust = mean_cumulative(cars)
    assert robust.mean[-1] == pytest.approx(2.0)
    assert robust.variance[-1] == pytest.approx(np.var(counts) / 5)
    plain = mean_cumulative(cars, spread="independent increments")
    assert robust.variance[-1] > 2 * plain.variance[-1], "a car that eats parts must widen the limits"


@pytest.mark.parametrize("spread", ["Lawless-Nadeau", "independent increments"])
def test_one_car_shows_no_spread(spread):
    found = mean_cumulative([Watched((1.0, 2.0), 5)], spread=spread)
    assert found.mean.tolist() == [1, 2]
    assert np.isnan([*found.variance, *found.lower, *found.upper]).all()
    assert "no limits at 2 of 2 readings, the first at 1" in found.words


def test_limits_end_where_the_second_car_leaves():
    found = mean_cumulative([Watched((1.0, 6.0), 8), Watched((2.0,), 5)])
    assert np.isnan(found.lower).tolist() == [
        False,
        True,
        True,
    ]  # at 2 both have had one renewal, from 5 there is one car
    assert found.variance[0] == pytest.approx(1 / 8)  # by hand: counts 1 and 0 of two cars, 0.25 / 2


def test_cars_that_do_not_differ_show_no_spread():
    assert np.isnan(mean_cumulative([Watched((1.0, 2.0), 5)] * 3).upper).all()
    apart = mean_cumulative([Watched((1.0, 2.0), 5)] * 3, spread="independent increments")
    assert (apart.upper > apart.mean).all()
    assert "from how the cars differ" in apart.words


def test_late_entry_is_not_at_risk_before_it_is_watched():
    cars = [Watched((5.0,), 10), Watched((7.0,), 10, start=6.0)]
    assert mean_cumulative(cars).at([5, 7]) == pytest.approx([1.0, 1.5])


def test_crow_power_law():
    fitted = power_law(CROW)
    assert fitted.growth == pytest.approx(0.490, abs=6e-4)
    assert fitted.rate == pytest.approx(0.761, abs=6e-4)
    assert fitted.mean_between_now == pytest.approx(166.22163, rel=1e-7)


def test_reliability_growth():
    fitted = power_law(GROWTH)
    assert fitted.growth == pytest.approx(0.61421, abs=6e-6)
    assert fitted.rate == pytest.approx(0.42394, abs=6e-6)
    assert fitted.mean_between == pytest.approx(28.18182, abs=6e-6)
    assert fitted.mean_between_now == pytest.approx(45.883, abs=6e-4)
    assert fitted.reading_at_mean(35) == pytest.approx(1087.18769, abs=6e-4)
    assert duane_slope(GROWTH) == pytest.approx(0.42531, abs=6e-6)


def test_laplace_and_power_law_of_thirty_gaps():
    # The last failure ends the watch and is not used in z.
    times = np.cumsum(BETWEEN)
    assert trend(times).laplace == pytest.approx(2.409438296, abs=1e-9)
    fitted = power_law(times)
    assert fitted.growth == pytest.approx(1.588053388, abs=1e-9)
    assert fitted.rate == pytest.approx(3.702728849e-05, abs=1e-13)


def test_nist_repairs():
    found = trend(NIST, 1500)
    assert found.reversals == 33
    assert found.laplace == pytest.approx(-1.32694918, rel=1e-8)
    assert (found.military_handbook, found.degrees) == (pytest.approx(37.2280815, rel=1e-8), 20)
    assert found.chance == pytest.approx(0.1845, abs=1e-4)  # 2·Φ(-1.32695), normal table
    fitted = power_law(NIST, 1500)
    assert 1 - fitted.growth_unbiased == pytest.approx(0.5165, abs=5e-5)
    assert fitted.mean_between_now_unbiased == pytest.approx(310.234, abs=6e-4)


def test_taking_the_last_renewal_for_the_end_of_the_watch_tells_another_story():
    assert trend(NIST).laplace != pytest.approx(trend(NIST, 1500).laplace, abs=0.1)


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: mean_cumulative([]), "cars"),
        (lambda: mean_cumulative(FIVE, spread="naive"), "spread"),
        (lambda: mean_cumulative(FIVE, level=1.0), "level"),
        (lambda: Watched((5.0,), 4.0), "renewals"),
        (lambda: Watched(("5",), 6.0), "renewals"),
        (lambda: Watched((5.0,), "6"), "end"),
        (lambda: trend(["1", "2", "3"]), "renewals"),
        (lambda: power_law(np.ma.masked_array([1.0, 2, 3], [False, True, False])), "renewals"),
        (lambda: Watched((), float("nan")), "end"),
        (lambda: Watched((), 4.0, -1.0), "start"),
        (lambda: trend([3, 2, 5]), "renewals"),
        (lambda: trend([4.0, 4.0]), "renewals"),
        (lambda: trend([1.0, np.nan]), "renewals"),
        (lambda: trend([1, 2], 1.5), "end"),
        (lambda: power_law([1, 2]), "renewals"),
        (lambda: power_law(NIST).reading_at_mean(0), "mean"),
    ],
)
def test_refusals_name_the_field(call, field):
    with pytest.raises(SpellError) as refused:
        call()
    assert refused.value.field == field
