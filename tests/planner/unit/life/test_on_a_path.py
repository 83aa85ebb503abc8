"""A measured part's path in the form of a life: the same chances as the path itself, the other clock as its kind has it."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import InputError
from planner.history.measurements import MeasuredWear
from planner.life.fit import book_life
from planner.life.measured.path_life import life_on_path, limit_points
from planner.life.measured.wear_path import wear_path
from planner.life.prior import ClockPrior, LifePrior

LIFE = book_life(LifePrior(distance=ClockPrior(20_000, 42_000), age=ClockPrior(7, 12)))


def path_of(*figures):
    at = np.array([10_000.0 * (i + 1) for i in range(len(figures))])
    wear = MeasuredWear("pads", "distance", at, np.array(figures), "mm", 3.0, 0.0, at[-1])
    return wear_path(wear, LIFE)


@pytest.mark.parametrize("more", [2_000, 5_000, 10_000, 20_000])
def test_chances_are_those_of_the_path(more):
    path = path_of(9.0, 7.5, 6.0)
    own = life_on_path(LIFE, "distance", limit_points(path))
    survival = np.exp(-own.cumulative_hazard_draws(km=30_000 + more, years=0.0)).mean()
    assert 1 - survival == pytest.approx(
        path.limit_within(more), abs=0.06
    )  # twenty points, each of a share of 0.05


def test_the_other_clock_stays_the_kinds():
    own = life_on_path(LIFE, "distance", limit_points(path_of(9.0, 7.5, 6.0)))
    assert own.age == LIFE.age
    kept = np.exp(-own.cumulative_hazard_draws(km=0.0, years=9.0)).mean()
    assert kept == pytest.approx(np.exp(-LIFE.cumulative_hazard_draws(km=0.0, years=9.0)).mean(), abs=0.01)


def test_points_count_from_the_fitting_where_the_figure_was_set_later_and_lie_ahead():
    path = path_of(9.0, 7.5, 6.0)
    plain, later = limit_points(path), limit_points(path, 5_000.0)
    assert later[-1] - plain[-1] == pytest.approx(5_000.0)
    assert min(plain) > 30_000


@pytest.mark.parametrize(
    ("clock", "points"), [("distance", []), ("distance", [0.0]), ("distance", [np.inf]), ("age", [np.nan])]
)
def test_points_that_are_no_clocks_are_refused(clock, points):
    with pytest.raises(InputError):
        life_on_path(LIFE, clock, points)


def test_a_clock_that_the_life_lacks_is_refused():
    with pytest.raises(InputError, match="clock"):
        life_on_path(book_life(LifePrior(age=ClockPrior(7, 12))), "distance", [1.0])
