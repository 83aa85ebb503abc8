"""A posterior as good as anyone can have: long importance samples, held to sums over a grid on a few fleets."""

from __future__ import annotations

import math

import numpy as np
from scipy.stats import multivariate_t, norm

from planner.life.likelihood import log_likelihood
from planner.life.terms import Terms, terms_of
from tests.planner.simulated.recovery_world import PRIOR

_EVALUATIONS = 1_500_000
_KEPT = 2_000


def log_density(terms: Terms, thetas: np.ndarray) -> np.ndarray:
    """Likelihood and prior at parameters in km and years, from the terms of the rows."""
    inside = log_likelihood(terms, thetas - terms.shift)
    return inside - 0.5 * (((thetas - PRIOR.mean) / PRIOR.spread) ** 2).sum(axis=1)


def long_sample(spells, life, seed: int) -> np.ndarray:
    """Draws (2000, 4) by 5,000 to 16,000 plain importance weights.

    The proposal is half again as wide as the library's own draws, with 4 degrees of freedom, a quarter from the prior.
    """
    random = np.random.default_rng([seed, 7])
    count = min(16_000, max(5_000, _EVALUATIONS // len(spells)))
    terms = life.terms if life.terms.counted else terms_of(spells)
    believed = PRIOR.mean + PRIOR.spread * random.standard_normal((count // 4, 4))
    wide = multivariate_t(life.draws.mean(axis=0), 1.5 * np.cov(life.draws.T), df=4, seed=random)
    thetas = np.concatenate([believed, wide.rvs(count - len(believed))])
    prior_log = norm.logpdf(thetas, PRIOR.mean, PRIOR.spread).sum(axis=1)
    proposed = np.logaddexp(math.log(0.25) + prior_log, math.log(0.75) + wide.logpdf(thetas))
    logs = log_density(terms, thetas) - proposed
    weight = np.exp(logs - logs.max())
    order = np.argsort(thetas @ np.linalg.eigh(np.cov(life.draws.T))[1][:, -1])
    steps = (np.arange(_KEPT) + random.random()) / _KEPT * weight.sum()
    return thetas[order[np.minimum(np.searchsorted(np.cumsum(weight[order]), steps), count - 1)]]


def by_quadrature(spells, seed: int) -> np.ndarray:
    """Draws (4000, 4) from sums over a grid of 25 points a parameter, 4.5 standard deviations of the prior wide."""
    random = np.random.default_rng([seed, 8])
    axes = [m + s * np.linspace(-4.5, 4.5, 25) for m, s in zip(PRIOR.mean, PRIOR.spread, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 4)
    logs = log_density(terms_of(spells), grid)
    heap = np.cumsum(np.exp(logs - logs.max()))
    return grid[np.searchsorted(heap, random.random(4_000) * heap[-1])]
