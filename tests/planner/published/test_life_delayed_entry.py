"""Delayed entry, the used-car case: closed forms, and that leaving it out gives another, wrong answer."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells, fit_life
from tests.planner.published import published_lives as data

# Lawless 2003, sections 2.4 and 3.5; Kalbfleisch & Lawless 1992: the likelihood is the product of f(x)/S(u).
ENTRY = np.array([10.0, 20, 0, 35, 15])
END = np.array([40.0, 55, 30, 60, 50])
FAILED = np.array([1, 0, 1, 1, 1]) == 1


def test_exponential_closed_form():
    # theta = Σ(x - u)/d = 38.75.
    life = fit_life(Spells.on_distance(END, np.where(FAILED, END, np.inf), ENTRY), fixed_shape=1.0)
    assert life.distance.scale == pytest.approx(38.75, rel=1e-9)


def test_known_shape_closed_form():
    # scale = sqrt(Σ(x² - u²)/d) = 49.1807889 at shape 2.
    life = fit_life(Spells.on_distance(END, np.where(FAILED, END, np.inf), ENTRY), fixed_shape=2.0)
    assert life.distance.scale == pytest.approx(49.1807889, rel=1e-8)


def test_constructed_used_cars():
    # Conditional quantiles of Weibull(2.5, 60); three independent routes agree on 61.0351045 and 2.86327683.
    entry, end = data.USED_CARS.T
    life = fit_life(Spells.on_distance(end, end, entry))
    assert life.distance.scale == pytest.approx(61.0351045, rel=1e-6)
    assert life.distance.shape == pytest.approx(2.86327683, rel=1e-6)


def test_leaving_entry_out_gives_the_known_wrong_answer():
    # The same routes with entry ignored: 69.0527799 and 3.65039115, a part that looks longer-lived than it is.
    entry, end = data.USED_CARS.T
    wrong = fit_life(Spells.on_distance(end, end))
    assert wrong.distance.scale == pytest.approx(69.0527799, rel=1e-6)
    assert wrong.distance.shape == pytest.approx(3.65039115, rel=1e-6)
    right = fit_life(Spells.on_distance(end, end, entry))
    assert wrong.life_at(0.1).km > 1.2 * right.life_at(0.1).km


def test_both_clocks_conditional_on_both_entries():
    # Entry conditions on both clocks at once: with the age law known the distance scale has the same closed form when
    # age adds nothing, so a fit on both with a vanishing age hazard must approach the one-clock answer.
    from planner import ClockPrior, LifePrior

    entry, end = data.USED_CARS.T
    never = ClockPrior(p10=1e6, p50=2e6, spread_scale=1e-3, spread_shape=1e-3)
    loose = ClockPrior(p10=30, p50=52, spread_scale=1e3, spread_shape=1e3)
    rate = 10.0
    both = Spells.on_both(end, end, end / rate, end / rate, entry, entry / rate)
    life = fit_life(both, LifePrior(distance=loose, age=never))
    assert life.distance.scale == pytest.approx(61.0351045, rel=1e-4)
    assert life.distance.shape == pytest.approx(2.86327683, rel=1e-4)
