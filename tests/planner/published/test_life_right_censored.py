"""Published maximum-likelihood fits of complete and right-censored lives."""

from __future__ import annotations

import numpy as np
import pytest
from surpyval.datasets import load_bearing_failures

from planner import Spells, fit_life, known_life
from tests.planner.published import published_lives as data


def ends(failed, censored=(), weight=None):
    lower = np.concatenate([np.asarray(failed, float), np.asarray(censored, float)])
    upper = np.concatenate([np.asarray(failed, float), np.full(len(censored), np.inf)])
    return Spells.on_distance(lower, upper, weight=weight)


def marked(rows, weight=None):
    t, failed = rows[:, 0].astype(float), rows[:, 1] == 1
    return Spells.on_distance(t, np.where(failed, t, np.inf), weight=weight)


def test_nist_20_units():
    # NIST/SEMATECH e-Handbook 8.4.1.3 prints scale 606.528, shape 1.7208, log-likelihood -75.135 (its page drops the
    # minus sign).
    life = fit_life(ends(data.NIST_FAILED, data.NIST_CENSORED))
    assert life.distance.scale == pytest.approx(606.528, abs=0.002)
    assert life.distance.shape == pytest.approx(1.7208, abs=1e-4)
    assert life.log_likelihood == pytest.approx(-75.135, abs=1e-3)
    assert life.evidence.histories == 20
    assert life.evidence.failures == 10
    assert life.evidence.prior_share == 0


def test_ball_bearings():
    # Lieblein & Zelen 1956; maximum likelihood in Lawless 1982/2003: scale 81.875, shape 2.102. Log-likelihood -113.69
    # from memory of Lawless.
    life = fit_life(ends(load_bearing_failures().iloc[:, 0].to_numpy()))
    assert life.distance.scale == pytest.approx(81.875, abs=6e-4)
    assert life.distance.shape == pytest.approx(2.102, abs=6e-4)
    assert life.log_likelihood == pytest.approx(-113.69, abs=5e-3)


def test_locomotive_controls():
    # Data Nelson 1982 ch. 8; Weibull values are the agreed result of four independent routes.
    life = fit_life(ends(data.LOCOMOTIVE_FAILED, [135.0] * 59))
    assert life.distance.scale == pytest.approx(183.398802, rel=1e-6)
    assert life.distance.shape == pytest.approx(2.33125321, rel=1e-6)
    assert life.log_likelihood == pytest.approx(-237.382513, rel=1e-8)


def test_diesel_generator_fans():
    # Nelson 1982; SAS/QC's RELIABILITY example prints scale 26297, shape 1.0584, mu 10.1771, sigma 0.9448 (from memory).
    life = fit_life(marked(data.FANS, weight=data.FANS[:, 2]))
    assert life.distance.scale == pytest.approx(26297, abs=0.5)
    assert life.distance.shape == pytest.approx(1.0584, abs=1e-4)
    assert np.log(life.distance.scale) == pytest.approx(10.1771, abs=1.5e-4)
    assert 1 / life.distance.shape == pytest.approx(0.9448, abs=5e-5)
    assert life.log_likelihood == pytest.approx(-135.15272, rel=1e-7)
    assert (life.evidence.histories, life.evidence.failures) == (70, 12)


def test_fans_failure_ahead_of_a_used_part():
    # P(T <= 6000 | T > 4000): two independent recomputations agree on 0.0704265727.
    life = fit_life(marked(data.FANS, weight=data.FANS[:, 2]))
    assert life.failure_within(km=4000, more_km=2000) == pytest.approx(0.0704265727, rel=1e-6)


def test_automotive_the_printed_value_is_not_the_maximum():
    # Krivtsov & Case 1999. A program's documentation prints scale 134243, shape 1.15586; its optimiser stopped early.
    # Four independent routes agree on 134651.037 and 1.15442668, with the higher likelihood.
    spells = marked(data.AUTOMOTIVE)
    life = fit_life(spells)
    assert life.distance.scale == pytest.approx(134651.037, rel=1e-6)
    assert life.distance.shape == pytest.approx(1.15442668, rel=1e-6)
    assert life.log_likelihood == pytest.approx(-128.973832, rel=1e-8)
    printed = known_life(distance=(1.15586, 134243))
    failed = ~spells.censored
    t = spells.km.lower
    log_hazard = np.log(printed.hazard(km=t[failed], km_per_year=1.0)).sum()
    assert log_hazard - printed.cumulative_hazard(km=t).sum() < life.log_likelihood - 1e-5


def test_automotive_log_wald_limits():
    # 95 % limits by the delta method on the logs, two independent routes.
    life = fit_life(marked(data.AUTOMOTIVE))
    spread = 1.959963985 * np.sqrt(np.diag(life.covariance))
    shape = life.distance.shape * np.exp([-spread[0], spread[0]])
    scale = life.distance.scale * np.exp([-spread[1], spread[1]])
    assert shape == pytest.approx([0.698250121, 1.90862975], rel=1e-5)
    assert scale == pytest.approx([72252.9137, 250936.617], rel=1e-5)


def test_tractor_brakes():
    # Barlow & Campo 1975, complete lives; the agreed result of three independent routes.
    life = fit_life(ends(data.TRACTOR_BRAKES))
    assert life.distance.scale == pytest.approx(2238.59898, rel=1e-6)
    assert life.distance.shape == pytest.approx(1.48558287, rel=1e-6)


def test_exponential_mean_is_time_on_test_over_failures():
    # Fans at a known shape of 1: 28703.3333 in closed form. Meeker & Escobar's 28,701, as remembered, does not verify.
    life = fit_life(marked(data.FANS, weight=data.FANS[:, 2]), fixed_shape=1.0)
    assert life.distance.scale == pytest.approx(28703.3333, rel=1e-8)
