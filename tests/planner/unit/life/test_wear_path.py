"""Measured parts: one measurement leaves the population's life, several let the part's own line win."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner.errors import InputError, WearContradicted, WearUneven
from planner.history.measurements import MeasuredWear
from planner.life.measured.wear_path import wear_path
from planner.life.model import known_life

PADS = known_life(distance=(2.5, 50_000.0))  # km to the limit of 2 mm from 12 mm new


def pads(*points, now=None, limit=2.0, clock="distance"):
    at, value = (np.array(column, dtype=float) for column in zip(*points, strict=True))
    return MeasuredWear("pads", clock, at, value, "mm", limit, 0.0, float(at[-1] if now is None else now))


def straight(per_km, *at, start=12.0):
    return [(t, start + per_km * t) for t in at]


def test_one_measurement_is_the_populations_conditional_life():
    path = wear_path(pads((20_000, 8.0)), PADS)
    for more in (1_000, 5_000, 20_000, 60_000):
        expected = float(PADS.failure_within(km=20_000, more_km=more))
        assert path.limit_within(more) == pytest.approx(expected, abs=2e-3)
    median = 50_000 * (math.log(2) + 0.4**2.5) ** 0.4 - 20_000
    assert path.remaining[1] == pytest.approx(median, rel=0.01)
    assert path.own_share == 0
    assert path.basis == "one measurement: the rate is that of such parts"


def test_one_measurement_on_an_uncertain_life_is_the_mean_over_its_draws():
    life = known_life(distance=(2.5, 50_000.0))
    draws = np.log([[2.0, 40_000.0], [3.0, 70_000.0]])
    object.__setattr__(life, "draws", draws)
    path = wear_path(pads((20_000, 8.0)), life)
    survival = np.exp(-((np.array([[20_000], [35_000]]) / [40_000, 70_000]) ** [2.0, 3.0]))
    each = (
        1 - survival[1] / survival[0]
    )  # each draw given that it has lived to now, as the population's life says it
    assert path.limit_within(15_000) == pytest.approx(each.mean(), abs=2e-3)


@pytest.mark.parametrize("per_km", [-0.0001, -0.0002, -0.0005])
def test_several_measurements_follow_their_own_line(per_km):
    path = wear_path(pads(*straight(per_km, 2_000, 6_000, 10_000, 14_000, 18_000)), PADS, error=0.05)
    expected = (2.0 - 12.0) / per_km - 18_000
    assert path.remaining[1] == pytest.approx(expected, rel=0.05)
    assert path.remaining[0] < expected < path.remaining[2]
    assert path.rate[1] == pytest.approx(per_km, rel=0.05)
    assert path.own_share > 0.7
    assert path.basis == "5 measurements: its own falling line"


def test_more_measurements_narrow_the_answer_and_uneven_use_ahead_stays():
    widths = [
        np.log(path.remaining[2] / path.remaining[0])
        for path in (
            wear_path(pads(*straight(-0.0002, *range(2_000, 2_000 * n + 1, 2_000))), PADS) for n in (1, 3, 8)
        )
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] > 2 * 1.28 * 0.15 * 0.9


def test_a_crude_measurement_says_less_than_a_fine_one():
    points = straight(-0.0005, 2_000, 8_000)
    fine, crude = (wear_path(pads(*points), PADS, error=error) for error in (0.02, 3.0))
    assert fine.own_share > crude.own_share
    assert crude.remaining[2] > fine.remaining[2]


def test_the_figure_from_new_is_a_measurement_too():
    path = wear_path(pads((20_000, 7.0)), PADS, start=12.0, error=0.1)
    assert path.remaining[1] == pytest.approx(20_000, rel=0.1)
    assert "figure from new" in path.basis


def test_a_rising_figure_is_followed_to_its_upper_limit():
    """Plug gaps grow 3.2 to 9.5 µm per 1,000 km (a trade page, converted from 0.0002 to 0.0006 in per 1,000 mi): 0.2 mm more takes
    21,000 to 63,000 km."""
    for per_km, takes in ((9.5e-6, 21_000), (3.2e-6, 63_000)):
        points = straight(per_km, 0, 5_000, 10_000, 15_000, start=0.7)
        path = wear_path(pads(*points, limit=0.9), known_life(distance=(2.5, 50_000.0)), error=0.002)
        assert path.remaining[1] + 15_000 == pytest.approx(takes, rel=0.06)
        assert "rising" in path.basis


def test_years_work_as_km_do():
    path = wear_path(pads((2, 9.0), (4, 8.0), (6, 7.0), clock="age"), known_life(age=(3.0, 15.0)), error=0.05)
    assert path.remaining[1] == pytest.approx(10.0, rel=0.1)


def test_beyond_the_limit_nothing_remains():
    path = wear_path(pads((5_000, 9.0), (15_000, 4.0), (22_000, 1.0)), PADS, error=0.1)
    assert path.at_limit > 0.99
    assert path.remaining == (0.0, 0.0, 0.0)
    assert path.limit_within(0) > 0.99


def test_time_since_the_last_measurement_counts_against_it():
    points = straight(-0.0003, 2_000, 8_000, 14_000)
    fresh, later = wear_path(pads(*points), PADS), wear_path(pads(*points, now=20_000), PADS)
    assert later.remaining[1] == pytest.approx(fresh.remaining[1] - 6_000, rel=0.05)
    assert later.value_now[1] < fresh.value_now[1]


def test_chances_rise_with_the_distance_ahead():
    path = wear_path(pads(*straight(-0.0003, 2_000, 8_000, 14_000)), PADS)
    chances = [path.limit_within(more) for more in (0, 5_000, 15_000, 20_000, 40_000, 500_000)]
    assert chances == sorted(chances)
    assert chances[-1] == pytest.approx(1)


def test_coverage_on_simulated_pads():
    """Rates scattered as the population's life says, measured with 0.3 mm error: the 80 % range holds the truth 80 % of the time."""
    random = np.random.default_rng(11)
    held, count = 0, 0
    while count < 400:
        life = 50_000 * random.weibull(2.5)
        at = np.array([5_000.0, 10_000.0, 15_000.0])
        if life <= at[-1]:
            continue
        value = 12.0 - 10.0 * at / life + random.normal(0.0, 0.3, 3)
        true = at[-1] + (life - at[-1]) * np.exp(0.15 * random.normal())
        low, _, high = wear_path(pads(*zip(at, value, strict=True)), PADS, error=0.3).remaining
        held += low <= true - at[-1] <= high
        count += 1
    assert 0.74 < held / count < 0.86


@pytest.mark.parametrize(
    "figures",
    [
        [(0, 8.0), (10_000, 9.0), (20_000, 10.0)],  # away from the limit
        [(0, 10.0), (10_000, 6.0), (20_000, 10.0)],  # renewed between, and nobody wrote it down
        [(0, 3.0), (10_000, 10.0)],
        [(0, 10.0), (10_000, 9.0), (20_000, 0.31), (30_000, 8.0)],  # one in inches
    ],
)
def test_figures_that_go_back_from_the_limit_are_refused(figures):
    for mirror in (1, -1):
        wear = pads(*((at, mirror * value) for at, value in figures), limit=mirror * 0.2 * figures[0][1])
        with pytest.raises(WearContradicted, match="renewal") as refused:
            wear_path(wear, PADS)
        assert refused.value.field == "wear.value"


def test_figures_along_no_line_are_refused_and_uneven_wear_is_not():
    with pytest.raises(WearUneven, match="rate has changed"):
        wear_path(pads((0, 11.0), (10_000, 10.9), (20_000, 10.8), (22_000, 5.0)), PADS)
    wear_path(pads((0, 11.0), (10_000, 9.5), (20_000, 7.2), (30_000, 6.1)), PADS)


def test_what_error_explains_is_not_refused():
    """True lines, with and without wear in them, measured with the error that is stated: one in a thousand may be refused."""
    random = np.random.default_rng(5)
    at = np.array([2_000.0, 6_000.0, 9_000.0, 15_000.0, 18_000.0])
    refused = 0
    for trial in range(600):
        value = 12.0 - (trial % 3) * 1.5e-4 * at + random.normal(0.0, 0.3, 5)
        try:
            wear_path(pads(*zip(at, value, strict=True)), PADS, error=0.3)
        except (WearContradicted, WearUneven):
            refused += 1
    assert refused <= 4  # Poisson with mean 1.2 at most: above 4 once in 130 seeds; this seed is fixed


@pytest.mark.parametrize(
    ("wear", "options", "field"),
    [
        (pads((1_000, 8.0), now=math.inf), {}, "wear.now"),
        (pads((1_000, 8.0), now=math.nan), {}, "wear.now"),
        (pads((1_000, 8.0)), {"direction": "fallling"}, "direction"),
        (pads((1_000, 8.0), limit=None), {}, "limit"),
        (pads((1_000, 8.0), limit=math.nan), {}, "limit"),
        (pads((1_000, 2.0)), {}, "limit"),
        (pads((1_000, 1.0)), {"direction": "falling"}, "limit"),
        (pads((1_000, 8.0)), {"error": 0.0}, "error"),
        (pads((1_000, 8.0)), {"error": math.inf}, "error"),
        (pads((1_000, 8.0)), {"start": math.nan}, "start"),
        (pads((1_000, math.nan)), {}, "wear"),
        (pads((2_000, 8.0), (1_000, 7.0)), {}, "wear.at"),
        (pads((2_000, 8.0), clock="age"), {}, "life"),
    ],
)
def test_figures_without_sense_are_refused(wear, options, field):
    with pytest.raises(InputError) as refused:
        wear_path(wear, PADS, **options)
    assert refused.value.field == field


@pytest.mark.parametrize("more", [-1.0, math.nan, math.inf])
def test_the_distance_ahead_must_make_sense(more):
    with pytest.raises(InputError, match="more"):
        wear_path(pads((1_000, 8.0)), PADS).limit_within(more)
