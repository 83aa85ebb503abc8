"""Draws of a kind and of all its groups at once: importance sampling over the kind and the spreads, the groups averaged out.

The proposals come from the joint fit at every spread tried (:mod:`planner.life.group_spread`); their weights from averages over each
group's own place, so that the shapes, which all groups share, are not drawn towards what suits the groups' peaks. Each group's place is
then drawn given the kind: draws of one joint posterior, in which no row counts twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.draws import DEGREES, TRUSTED_K
from planner.life.group_average import Quadratic, around
from planner.life.model import Diagnostics
from planner.life.pareto import smoothed_weights

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.group_average import Around
    from planner.life.group_spread import SpreadGrid
    from planner.life.linked_lives import Link
    from planner.life.prior import LifePrior
    from planner.life.row_parts import IntArray

_PROPOSALS = {1: 2000, 2: 2500}
_WIDER = 1.2
_MANY_CELLS = 2000
_ENOUGH = 400
_USUAL_SHARE = 0.2


@dataclass(frozen=True, eq=False)
class AtSpread:
    """The joint fit at one spread: its peak (shared,), covariance (shared, shared) and log marginal likelihood."""

    shared: FloatArray
    covariance: FloatArray
    log_marginal: float


@dataclass(frozen=True, eq=False)
class KindDraws:
    """Weighted draws of a kind and its spreads.

    Attributes:
        kind: parameters of the kind, (m, p).
        spread: of the groups' ln scales, (m, clocks).
        log_ratio: log of target over proposal, up to a constant, (m,).
        weight: the same smoothed, sums to 1, (m,).
        own: log average of each group's rows at every draw, (groups, m).
        diagnostics: of the weights.
    """

    kind: FloatArray
    spread: FloatArray
    log_ratio: FloatArray
    weight: FloatArray
    own: FloatArray
    diagnostics: Diagnostics

    @property
    def trusted(self) -> bool:
        """Whether the tail of the weights is light enough."""
        return self.diagnostics.pareto_k <= TRUSTED_K

    def picked(self, count: int, random: np.random.Generator) -> IntArray:
        """Equally weighted draws, as indices, in random order."""
        steps = (np.arange(count) + random.random()) / count
        index = np.searchsorted(np.cumsum(self.weight), steps)
        return random.permutation(np.minimum(index, len(self.weight) - 1))

    def without(self, group: int) -> FloatArray:
        """Weights with one group's rows left out, sum 1, (m,)."""
        logs = np.where(np.isfinite(self.log_ratio), self.log_ratio - self.own[group], -np.inf)
        weights, _ = smoothed_weights(logs)
        return weights

    def quantiles(self, clock: int, chances: list[float]) -> FloatArray:
        """Of the posterior of one clock's spread."""
        order = np.argsort(self.spread[:, clock])
        below = np.cumsum(self.weight[order]) - 0.5 * self.weight[order]
        found: FloatArray = np.interp(chances, below, self.spread[order, clock])
        return found


def groups_around(
    links: tuple[Link, ...], best: AtSpread, kind: FloatArray, spread: FloatArray
) -> list[Around]:
    """Where every group stands for given parameters of the kind; thousands of rows are taken by their quadratic."""
    out = []
    for link in links:
        near = Quadratic.around(link.rows, link.design @ best.shared)
        out.append(around(near if _cells(link) > _MANY_CELLS else link.rows, kind, spread, near))
    return out


def draw_kind(
    links: tuple[Link, ...], fits: list[AtSpread], grid: SpreadGrid, prior: LifePrior, seed: int
) -> KindDraws:
    """Draw the kind and its spreads; where the weights are not to be trusted, once more from around the first draws."""
    random = np.random.default_rng(seed)
    cells = grid.fine_weights(np.array([fit.log_marginal for fit in fits]))
    first = _weighed(links, fits, grid, prior, *_proposed(fits, grid, cells, random))
    if first.trusted and first.diagnostics.effective_sample_size >= _ENOUGH:
        return first
    again = _weighed(links, fits, grid, prior, *_proposed_around(first, random))
    return max(first, again, key=lambda found: (found.trusted, found.diagnostics.effective_sample_size))


def _weighed(
    links: tuple[Link, ...],
    fits: list[AtSpread],
    grid: SpreadGrid,
    prior: LifePrior,
    kind: FloatArray,
    log_spread: FloatArray,
    log_proposal: FloatArray,
) -> KindDraws:
    best = max(fits, key=lambda fit: fit.log_marginal)
    spread = np.exp(log_spread)
    each = groups_around(links, best, kind, spread)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        own = np.stack([group.log_average() for group in each])
        log_ratio = own.sum(axis=0) + grid.log_prior(log_spread) - log_proposal
        log_ratio -= 0.5 * (((kind - prior.mean) / prior.spread) ** 2).sum(axis=1)
    log_ratio = np.where(np.isfinite(log_ratio), log_ratio, -np.inf)
    weights, k = smoothed_weights(log_ratio)
    said = Diagnostics(float(1 / (weights**2).sum()), k, "importance sampling, groups averaged out")
    return KindDraws(kind, spread, log_ratio, weights, own, said)


def _proposed(
    fits: list[AtSpread], grid: SpreadGrid, cells: FloatArray, random: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Parameters of the kind, log spreads and log density, from the joint fits."""
    size = len(grid.clocks)
    usual = np.exp(grid.log_prior(grid.fine_points))
    mass = (1 - _USUAL_SHARE) * cells + _USUAL_SHARE * usual / usual.sum()
    cell = np.searchsorted(np.cumsum(mass), random.random(_PROPOSALS[size]) * mass.sum())
    cell = np.minimum(cell, len(mass) - 1)
    log_spread = grid.fine_points[cell] + grid.fine_step * (random.random((len(cell), size)) - 0.5)
    near = grid.nearest(grid.fine_points[cell])
    width = 2 * size
    means = np.stack([fit.shared[:width] for fit in fits])
    roots = _WIDER * np.linalg.cholesky(np.stack([fit.covariance[:width, :width] for fit in fits]))
    offset, log_t = _t(len(cell), width, random)
    kind = means[near] + np.einsum("nij,nj->ni", roots[near], offset)
    return kind, log_spread, np.log(mass[cell]) + log_t - np.linalg.slogdet(roots)[1][near]


def _proposed_around(
    first: KindDraws, random: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The same from one t law with the mean and covariance of draws so far."""
    both = np.concatenate([first.kind, np.log(first.spread)], axis=1)
    middle = first.weight @ both
    off = both - middle
    covariance = np.einsum("n,ni,nj->ij", first.weight, off, off)
    root = _WIDER * np.linalg.cholesky(covariance + 1e-6 * np.diag(np.diag(covariance)))
    offset, log_t = _t(len(both), both.shape[1], random)
    values = middle + offset @ root.T
    width = first.kind.shape[1]
    return values[:, :width], values[:, width:], log_t


def _t(count: int, size: int, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """Standard t draws with 6 degrees of freedom, (count, size), and their log density up to a constant."""
    offset = random.standard_normal((count, size))
    offset *= np.sqrt(DEGREES / random.chisquare(DEGREES, count))[:, None]
    log_density: FloatArray = -0.5 * (DEGREES + size) * np.log1p((offset**2).sum(axis=1) / DEGREES)
    return offset, log_density


def _cells(link: Link) -> int:
    terms = link.rows.problem.terms
    return (
        sum(len(p.weight) for p in terms.points) + len(terms.exact.weight) + 2 * len(terms.intervals.weight)
    )
