"""Lives with a shape known from elsewhere, and laws through two quantiles."""

from __future__ import annotations

import math

import numpy as np
import pytest

from planner import ClockPrior, Spells, fit_life
from planner.life.prior import weibull_through
from tests.planner.published import published_lives as data


@pytest.mark.parametrize(
    ("shape", "scale", "b10"),
    [(1.0, 28703.3333, 3024.198), (1.5, 17228.2407, 3843.19884), (2.0, 13694.1356, 4445.01845)],
)
def test_weibayes_on_the_fans(shape, scale, b10):
    # scale = (Σ t^shape / failures)^(1/shape): Abernethy et al. 1983, AFWAL-TR-83-2079; IEC 61649; Nelson 1985.
    t, failed, count = data.FANS.T
    spells = Spells.on_distance(t, np.where(failed == 1, t, np.inf), weight=count)
    life = fit_life(spells, fixed_shape=shape)
    assert life.distance.scale == pytest.approx(scale, rel=1e-8)
    assert life.life_at(0.10).km == pytest.approx(b10, rel=1e-8)
    assert life.distance.shape == shape
    assert life.known_shape


def test_weibayes_draws_hold_the_shape_and_follow_a_gamma_law():
    # With the shape known, flat ln scale makes scale^-shape gamma with as many events as failures.
    t, failed, count = data.FANS.T
    spells = Spells.on_distance(t, np.where(failed == 1, t, np.inf), weight=count)
    life = fit_life(spells, fixed_shape=2.0, draws=4000)
    assert np.ptp(life.draws[:, 0]) == 0
    rate = np.exp(-2 * life.draws[:, 1]) * float((t**2 * count).sum())
    assert rate.mean() == pytest.approx(12, rel=0.02)
    assert rate.var() == pytest.approx(12, rel=0.1)


def test_law_through_5_and_50_per_cent():
    # beta = ln[ln(1-p2)/ln(1-p1)]/ln(t2/t1), closed form; 5 % by 20,000 and half by 60,000 km.
    shape, scale = weibull_through(20000, 0.05, 60000, 0.5)
    assert shape == pytest.approx(2.36997379, rel=1e-8)
    assert scale == pytest.approx(70034.8569, rel=1e-8)


@pytest.mark.parametrize(
    ("shape", "ratio"), [(1, 6.58), (1.5, 3.51), (2, 2.56), (2.5, 2.12), (3, 1.87), (4, 1.60)]
)
def test_prior_from_10_and_50_per_cent(shape, ratio):
    # Ratio of the two quantiles by shape, from ln 2 / -ln 0.9 = 6.5788 (trade notes' table, to three digits).
    prior = ClockPrior(p10=1000.0, p50=1000.0 * ratio)
    assert prior.shape == pytest.approx(shape, rel=0.01)
    assert -math.expm1(-((1000.0 / prior.scale) ** prior.shape)) == pytest.approx(0.10, abs=1e-12)
    assert -math.expm1(-((1000.0 * ratio / prior.scale) ** prior.shape)) == pytest.approx(0.50, abs=1e-12)
