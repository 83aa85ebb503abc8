"""Draws from a posterior: importance sampling from a t around its mode, or an ensemble of walkers where that fails."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitNotConverged
from planner.life.model import Diagnostics
from planner.life.sampling.ensemble import walk
from planner.life.sampling.pareto import smoothed_weights
from planner.life.sampling.proposal import Mixture, StudentT, normal

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import BoolArray, FloatArray

    LogDensity = Callable[[FloatArray], FloatArray]

DEGREES = 6
TRUSTED_K = 0.7
_PROPOSALS = 4000
_FIRST = 0.4
_FROM_PRIOR = 0.25
_AS_GOOD_AS_GOT, _TOO_FEW = 0.9, 20


@dataclass(frozen=True, eq=False)
class Draws:
    """Equally weighted draws (n, p) and how they were made."""

    values: FloatArray
    diagnostics: Diagnostics


def draw_around(
    log_density: LogDensity,
    mode: FloatArray,
    covariance: FloatArray,
    *,
    count: int,
    seed: int,
    prior: tuple[FloatArray, FloatArray] | None = None,
) -> Draws:
    """Draw from a density known up to a constant.

    The first proposal is a multivariate t with 6 degrees of freedom at the mode, with the covariance as its scale; a
    quarter comes from the prior instead, where there is one, so that no weight can pass four times what the data say
    (a defensive mixture, Hesterberg 1995, Technometrics 37:185). The second is a t with the mean and covariance that
    the first one's weights give; all draws are weighted against both together. The weights are Pareto-smoothed
    (Vehtari, Simpson, Gelman, Yao & Gabry 2024, JMLR 25:72) and the sample is resampled systematically along the
    longest axis. Where the weights' tail index is above 0.7, an affine-invariant ensemble takes over.

    Args:
        log_density: (m, p) in, (m,) out; -inf where the density is 0.
        mode: (p,).
        covariance: (p, p), zero in parameters that are held.
        count: how many draws to return.
        seed: of the random numbers.
        prior: means and standard deviations (p,) of independent normals that the density has as a factor.
    """
    random = np.random.default_rng(seed)
    free = np.diag(covariance) > 0
    inside = _Inside(log_density, mode, free)
    first = _first_law(
        mode[free],
        covariance[np.ix_(free, free)],
        None if prior is None else (prior[0][free], prior[1][free]),
    )
    at, weights, k = _in_two_rounds(inside, first, max(_PROPOSALS, 10 * count), random)
    worth = float(1 / (weights**2).sum())
    root = _moments(at, weights)[1] if worth > _TOO_FEW else first.laws[0].root
    order = np.argsort(at @ np.linalg.svd(root)[0][:, 0])
    at, weights = at[order], weights[order]
    if k <= TRUSTED_K:
        picked = inside.whole(at[_systematic(weights, count, random)])
        return Draws(picked, Diagnostics(worth, k, f"importance sampling (t, {DEGREES} degrees of freedom)"))
    begin = at[_systematic(weights, 100, random)] + 0.2 * random.standard_normal((100, len(root))) @ root.T
    chain = walk(log_density, inside.whole(begin), mode, free, random)
    rows = np.linspace(0, len(chain.values) - 1, count).round().astype(int)
    said = f"ensemble of walkers (importance weights had Pareto k {k:.2f})"
    return Draws(chain.values[rows], Diagnostics(chain.effective_sample_size, k, said))


@dataclass(frozen=True, eq=False)
class _Inside:
    """A density over the parameters that move, the others held at the mode."""

    log_density: LogDensity
    mode: FloatArray
    free: BoolArray

    def whole(self, at: FloatArray) -> FloatArray:
        """All parameters, (m, p)."""
        out = np.tile(self.mode, (len(at), 1))
        out[:, self.free] = at
        return out

    def __call__(self, at: FloatArray) -> FloatArray:
        return self.log_density(self.whole(at))


def _first_law(
    mode: FloatArray, covariance: FloatArray, prior: tuple[FloatArray, FloatArray] | None
) -> Mixture:
    near = StudentT(mode, _root(covariance), DEGREES)
    if prior is None:
        return Mixture([near], [1.0])
    return Mixture([near, normal(*prior)], [1 - _FROM_PRIOR, _FROM_PRIOR])


def _in_two_rounds(
    log_density: LogDensity, first: Mixture, total: int, random: np.random.Generator
) -> tuple[FloatArray, FloatArray, float]:
    """Draws, their weights (sum 1) and the weights' tail index."""
    early = round(_FIRST * total)
    at = first.draw(early, random)
    value, proposed = log_density(at), first.log_density(at)
    weights, _ = smoothed_weights(value - proposed)
    adapts = _TOO_FEW < 1 / (weights**2).sum() < _AS_GOOD_AS_GOT * early
    second = Mixture([StudentT(*_moments(at, weights), DEGREES)], [1.0]) if adapts else first
    more = second.draw(total - early, random)
    both = Mixture(
        [*first.laws, *second.laws],
        [*(_FIRST * s for s in first.shares), *((1 - _FIRST) * s for s in second.shares)],
    )
    at = np.concatenate([at, more])
    weights, k = smoothed_weights(np.concatenate([value, log_density(more)]) - both.log_density(at))
    return at, weights, k


def _moments(at: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Weighted mean and the Cholesky root of the weighted covariance."""
    mean: FloatArray = weights @ at
    off = at - mean
    covariance = (off.T * weights) @ off
    return mean, _root(covariance + 1e-9 * np.diag(np.diag(covariance)))


def _root(covariance: FloatArray) -> FloatArray:
    try:
        return np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
    except np.linalg.LinAlgError as error:
        raise FitNotConverged(
            "the draws have no spread in some direction: weights too large to add up"
        ) from error


def _systematic(weights: FloatArray, count: int, random: np.random.Generator) -> FloatArray:
    """Indices of a systematic resample, in random order."""
    steps = (np.arange(count) + random.random()) / count
    index = np.searchsorted(np.cumsum(weights), steps * weights.sum())
    return random.permutation(np.minimum(index, len(weights) - 1))
