"""Draws from a posterior: importance sampling from a t around its mode, or an ensemble of walkers where that fails."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.ensemble import walk
from planner.life.model import Diagnostics
from planner.life.pareto import smoothed_weights

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import FloatArray

    LogDensity = Callable[[FloatArray], FloatArray]

DEGREES = 6
TRUSTED_K = 0.7
_PROPOSALS = 4000


@dataclass(frozen=True, eq=False)
class Draws:
    """Equally weighted draws (n, p) and how they were made."""

    values: FloatArray
    diagnostics: Diagnostics


def draw_around(
    log_density: LogDensity, mode: FloatArray, covariance: FloatArray, *, count: int, seed: int
) -> Draws:
    """Draw from a density known up to a constant.

    The proposal is a multivariate t with 6 degrees of freedom at the mode, with the covariance as its scale; the
    importance weights are Pareto-smoothed (Vehtari, Simpson, Gelman, Yao & Gabry 2024, JMLR 25:72) and the sample is
    resampled systematically along the longest axis of the covariance. Where the tail index of the weights is above 0.7, an affine-invariant ensemble takes over.

    Args:
        log_density: (m, p) in, (m,) out; -inf where the density is 0.
        mode: (p,).
        covariance: (p, p), zero in parameters that are held.
        count: how many draws to return.
        seed: of the random numbers.
    """
    random = np.random.default_rng(seed)
    free = np.diag(covariance) > 0
    root = np.linalg.cholesky(covariance[np.ix_(free, free)])
    size = int(free.sum())
    total = max(_PROPOSALS, 10 * count)
    normal = random.standard_normal((total, size))
    stretch = np.sqrt(DEGREES / random.chisquare(DEGREES, total))
    offset = normal * stretch[:, None]
    thetas = np.tile(mode, (total, 1))
    thetas[:, free] += offset @ root.T
    log_proposal = -0.5 * (DEGREES + size) * np.log1p((offset**2).sum(axis=1) / DEGREES)
    weights, k = smoothed_weights(log_density(thetas) - log_proposal)
    worth = float(1 / (weights**2).sum())
    longest = np.linalg.eigh(covariance)[1][:, -1]
    order = np.argsort(thetas @ longest)
    thetas, weights = thetas[order], weights[order]
    if k <= TRUSTED_K:
        picked = thetas[_systematic(weights, count, random)]
        return Draws(picked, Diagnostics(worth, k, f"importance sampling (t, {DEGREES} degrees of freedom)"))
    begin = thetas[_systematic(weights, 100, random)]
    begin[:, free] += 0.2 * random.standard_normal((100, size)) @ root.T
    chain = walk(log_density, begin, mode, free, random)
    rows = np.linspace(0, len(chain.values) - 1, count).round().astype(int)
    said = f"ensemble of walkers (importance weights had Pareto k {k:.2f})"
    return Draws(chain.values[rows], Diagnostics(chain.effective_sample_size, k, said))


def _systematic(weights: FloatArray, count: int, random: np.random.Generator) -> FloatArray:
    """Indices of a systematic resample, in random order."""
    steps = (np.arange(count) + random.random()) / count
    index = np.searchsorted(np.cumsum(weights), steps * weights.sum())
    return random.permutation(np.minimum(index, len(weights) - 1))
