"""Draws: against quadrature and known laws, with both samplers; Pareto k and effective sample size."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life, known_life
from planner.life.problem import pose
from planner.life.sampling.draws import draw_around
from planner.life.sampling.ensemble import walk
from planner.life.sampling.pareto import fit_tail, smoothed_weights
from planner.life.terms import terms_of

INF = np.inf
PRIOR = LifePrior(distance=ClockPrior(30_000, 70_000))
SPELLS = Spells.on_distance([40_000, 60_000, 0, 50_000], [40_000, INF, 80_000, INF], [0, 30_000, 0, 45_000])


def by_quadrature(spells, prior):
    """Mean and covariance of (ln shape, ln scale) on a fine grid."""
    problem = pose(terms_of(spells), prior, None)
    axes = [m + s * np.linspace(-7, 7, 401) for m, s in zip(problem.centre, prior.spread, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2)
    log = problem.log_density(grid)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    mean = weight @ grid
    return mean + problem.terms.shift, (weight * (grid - mean).T) @ (grid - mean)


def test_importance_draws_match_quadrature():
    mean, covariance = by_quadrature(SPELLS, PRIOR)
    life = fit_life(SPELLS, PRIOR, draws=20_000)
    assert life.diagnostics.sampler.startswith("importance")
    assert life.diagnostics.pareto_k < 0.7
    error = np.sqrt(np.diag(covariance) * (1 / life.diagnostics.effective_sample_size + 1 / 20_000))
    assert (np.abs(life.draws.mean(axis=0) - mean) < 4 * error).all()
    assert np.cov(life.draws.T) == pytest.approx(covariance, rel=0.05, abs=0.004)


def test_ensemble_matches_quadrature():
    mean, covariance = by_quadrature(SPELLS, PRIOR)
    problem = pose(terms_of(SPELLS), PRIOR, None)
    random = np.random.default_rng(3)
    begin = problem.centre + 0.1 * random.standard_normal((100, 2))
    chain = walk(problem.log_density, begin, problem.centre, np.array([True, True]), random)
    error = np.sqrt(np.diag(covariance) / chain.effective_sample_size)
    assert 1000 < chain.effective_sample_size < len(chain.values)
    assert (np.abs(chain.values.mean(axis=0) + problem.terms.shift - mean) < 4 * error).all()
    assert np.cov(chain.values.T) == pytest.approx(covariance, rel=0.08, abs=0.005)


def test_where_weights_cannot_be_trusted_the_ensemble_takes_over_and_says_so():
    # A proposal far too narrow for its target, a standard normal.
    def log_density(thetas):
        return -0.5 * (thetas**2).sum(axis=1)

    drawn = draw_around(log_density, np.zeros(2), 1e-4 * np.eye(2), count=4000, seed=1)
    assert drawn.diagnostics.pareto_k > 0.7
    assert drawn.diagnostics.sampler.startswith("ensemble")
    assert drawn.values.std(axis=0) == pytest.approx([1, 1], rel=0.1)
    assert drawn.values.mean(axis=0) == pytest.approx([0, 0], abs=0.1)


def test_a_proposal_equal_to_its_target_loses_nothing():
    def log_density(thetas):
        return -0.5 * (6 + 2) * np.log1p((thetas**2).sum(axis=1) / 6)

    drawn = draw_around(log_density, np.zeros(2), np.eye(2), count=400, seed=1)
    assert drawn.diagnostics.pareto_k == 0
    assert drawn.diagnostics.effective_sample_size == pytest.approx(4000)
    assert drawn.values.shape == (400, 2)


@pytest.mark.parametrize("k", [0.1, 0.5, 0.9])
def test_tail_index_of_a_pareto_law_is_found(k):
    # Generalised Pareto excesses ((1-u)^-k - 1)/k; the estimate is drawn to 0.5 by ten pseudo-observations.
    u = np.random.default_rng(7).random(5000)
    found, scale = fit_tail(np.sort(((1 - u) ** -k - 1) / k))
    assert found == pytest.approx(k, abs=0.05)
    assert scale == pytest.approx(1, rel=0.1)


def test_smoothed_weights_sum_to_one_and_know_their_tail():
    random = np.random.default_rng(5)
    heavy = random.pareto(1 / 0.9, 4000) + 1
    weights, k = smoothed_weights(np.log(heavy))
    assert weights.sum() == pytest.approx(1)
    assert k == pytest.approx(0.9, abs=0.15)
    light, calm = smoothed_weights(random.normal(0, 0.1, 4000))
    assert calm < 0.3
    assert light.max() < 2 / 4000
    assert smoothed_weights(np.array([0.0] + [-INF] * 99))[1] == INF


def test_draws_without_a_prior_stay_in_their_box():
    life = fit_life(Spells.on_distance([5, 7], [5, INF]), draws=1000)
    sd = np.sqrt(np.diag(life.covariance))
    assert (np.abs(life.draws - life.parameters) <= 10 * sd + 1e-9).all()
    assert np.isfinite(life.draws).all()


def test_draws_and_covariance_are_closed_for_writing():
    life = known_life(age=(2.0, 10.0))
    with pytest.raises(ValueError, match="read-only"):
        life.draws[0, 0] = 9.0
    with pytest.raises(ValueError, match="read-only"):
        life.covariance[0, 0] = 9.0
