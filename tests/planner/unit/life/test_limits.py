"""Limits: likelihood ratio against direct profiles, draws against their quantiles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from planner import ClockPrior, LifePrior, Spells, fit_life, known_life
from planner.errors import InputError
from planner.life.life_profile import LifeProfile
from planner.life.likelihood import derivatives
from planner.life.problem import pose
from planner.life.terms import terms_of
from tests.planner.published.test_life_two_clocks import simulated

HALF_CHI_SQUARE_95 = 1.920729410347062
LIVES = np.array(
    [17.88, 28.92, 33.0, 41.52, 42.12, 45.6, 48.4, 51.84, 51.96, 54.12, 55.56, 67.8, 105.12, 127.92]
)
SPELLS = Spells.on_distance(np.append(LIVES, [80, 90]), np.append(LIVES, [np.inf, np.inf]))


def log_likelihood(shape, scale):
    t = SPELLS.km.lower
    log_hazard = np.log(shape / scale) + (shape - 1) * np.log(LIVES / scale)
    return log_hazard.sum() - ((t / scale) ** shape).sum()


def test_shape_limits_by_a_direct_profile():
    life = fit_life(SPELLS)
    t = SPELLS.km.lower

    def profile(shape):
        scale = ((t**shape).sum() / len(LIVES)) ** (1 / shape)
        return log_likelihood(shape, scale) - life.log_likelihood + HALF_CHI_SQUARE_95

    low, high = life.likelihood_ratio_limits("distance.shape", 0.95)
    assert low == pytest.approx(brentq(profile, 0.3, life.distance.shape), rel=1e-7)
    assert high == pytest.approx(brentq(profile, life.distance.shape, 20), rel=1e-7)


@pytest.mark.parametrize("fraction", [0.1, 1 - np.exp(-1)])
def test_life_limits_by_a_direct_profile(fraction):
    # At 1 - 1/e the life is the scale itself, so its limits must be those of the scale.
    life = fit_life(SPELLS)
    hazard = -np.log1p(-fraction)

    def profile(t):
        def minus(log_shape):
            shape = np.exp(log_shape)
            return -log_likelihood(shape, t / hazard ** (1 / shape))

        best = minimize_scalar(minus, bounds=(-2, 3), method="bounded", options={"xatol": 1e-10})
        return -best.fun - life.log_likelihood + HALF_CHI_SQUARE_95

    point = life.life_at(fraction)
    low, high = point.with_interval(0.95, method="likelihood ratio")
    assert low.km == pytest.approx(brentq(profile, point.km / 20, point.km), rel=1e-6)
    assert high.km == pytest.approx(brentq(profile, point.km, point.km * 20), rel=1e-6)
    if fraction > 0.5:
        assert (low.km, high.km) == pytest.approx(
            life.likelihood_ratio_limits("distance.scale", 0.95), rel=1e-6
        )


def test_exponential_life_limits_close_their_circle():
    # Known shape 1: the profile of ln scale is d·(ln s - s/ŝ...) in closed form: d·(x - 1 - ln x) = 1.92, x = ŝ/s.
    life = fit_life(SPELLS, fixed_shape=1.0)
    low, high = life.likelihood_ratio_limits("distance.scale", 0.95)
    for limit in (low, high):
        ratio = life.distance.scale / limit
        assert len(LIVES) * (ratio - 1 - np.log(ratio)) == pytest.approx(HALF_CHI_SQUARE_95, rel=1e-6)
    b10 = life.life_at(0.1).with_interval(0.95, method="likelihood ratio")
    assert b10[0].km / life.life_at(0.1).km == pytest.approx(low / life.distance.scale, rel=1e-6)
    with pytest.raises(InputError, match="fitted"):
        life.likelihood_ratio_limits("distance.shape")


def test_two_clock_profile_has_true_derivatives():
    spells = simulated(60, 4)
    terms = terms_of(spells)
    view = LifeProfile(pose(terms, None, None), np.log(0.3), 0.2)
    x, step = np.array([0.7, 1.1, -0.4]), 1e-5
    at = view.at(-0.1)
    here = at(x)
    for i, way in enumerate(step * np.eye(3)):
        up, down = at(x + way), at(x - way)
        assert here.gradient[i] == pytest.approx((up.value - down.value) / 2 / step, rel=1e-6, abs=1e-7)
        assert here.hessian[i] == pytest.approx((up.gradient - down.gradient) / 2 / step, rel=1e-5, abs=1e-6)


def test_two_clock_limits_hold_the_drop():
    spells = simulated(300, 2, entry=True)
    life = fit_life(spells)
    point = life.life_at(0.10, km_per_year=5000)
    low, high = point.with_interval(0.90, method="likelihood ratio")
    assert low.years < point.years < high.years
    assert low.km == pytest.approx(5000 * low.years)
    by_draws = point.with_interval(0.90)
    assert low.years == pytest.approx(by_draws[0].years, rel=0.06)
    assert high.years == pytest.approx(by_draws[1].years, rel=0.06)
    for name in ("distance.shape", "distance.scale", "age.shape", "age.scale"):
        low, high = life.likelihood_ratio_limits(name, 0.90)
        clock, part = name.split(".")
        assert low < getattr(getattr(life, clock), part) < high


def test_limits_with_a_prior_are_of_likelihood_times_prior():
    prior = LifePrior(distance=ClockPrior(20, 60))
    life = fit_life(SPELLS, prior)
    low, high = life.likelihood_ratio_limits("distance.shape", 0.95)
    free_low, free_high = fit_life(SPELLS).likelihood_ratio_limits("distance.shape", 0.95)
    assert free_low < low < high < free_high


def test_limits_that_never_close_are_infinite():
    # One failure below one good part: the scale has no upper limit at 99.9 %.
    life = fit_life(Spells.on_distance([5, 7], [5, np.inf]))
    low, high = life.likelihood_ratio_limits("distance.scale", 0.999)
    assert 0 < low < 10
    assert high == np.inf


def test_draw_limits_are_quantiles():
    life = fit_life(SPELLS, draws=2000)
    low, high = life.life_at(0.5).with_interval(0.80)
    lives = np.exp(life.draws[:, 1]) * np.log(2) ** (1 / np.exp(life.draws[:, 0]))
    assert np.mean(lives < low.km) == pytest.approx(0.1, abs=0.01)
    assert np.mean(lives > high.km) == pytest.approx(0.1, abs=0.01)


def test_limits_refuse():
    life = fit_life(SPELLS)
    for level in (0, 1, -1, np.nan, "0.1", None, [0.8, 0.9]):
        with pytest.raises(InputError, match="level"):
            life.life_at(0.1).with_interval(level)
        with pytest.raises(InputError, match="level"):
            life.likelihood_ratio_limits("distance.shape", level)
    with pytest.raises(InputError, match="parameter"):
        life.likelihood_ratio_limits(np.array(["distance.shape", "distance.scale"]))
    with pytest.raises(InputError, match="method"):
        life.life_at(0.1).with_interval(method="bootstrap")
    with pytest.raises(InputError, match="parameter"):
        life.likelihood_ratio_limits("age.shape")
    with pytest.raises(InputError, match="method"):
        known_life(distance=(2, 5)).likelihood_ratio_limits("distance.shape")
    assert derivatives(life.terms, life.parameters - life.terms.shift).finite
