"""Draws of a kind and of all its groups at once: importance sampling over the kind and the spreads, the groups averaged out.

The proposals come from the joint fit at every spread tried (:mod:`planner.life.groups.group_spread`); their weights from averages over each
group's own place, so that the shapes, which all groups share, are not drawn towards what suits the groups' peaks. Each group's place is
then drawn given the kind: draws of one joint posterior, in which no row counts twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.groups.group_average import Quadratic, around
from planner.life.model import Diagnostics
from planner.life.sampling.draws import DEGREES, TRUSTED_K
from planner.life.sampling.ensemble import walk
from planner.life.sampling.pareto import smoothed_weights

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.groups.group_average import Around
    from planner.life.groups.group_spread import SpreadGrid
    from planner.life.groups.linked_lives import Link
    from planner.life.prior import LifePrior
    from planner.life.row_parts import IntArray

_PROPOSALS = {1: 2000, 2: 2500}
_WIDER = 1.2
_MANY_CELLS = 2000
_ENOUGH = 400
_WALKERS = 32
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
        weight: sums to 1, (m,).
        own: log average of each group's rows at every draw, (groups, m).
        diagnostics: of the weights.
    """

    kind: FloatArray
    spread: FloatArray
    weight: FloatArray
    own: FloatArray
    diagnostics: Diagnostics

    @property
    def both(self) -> FloatArray:
        """Parameters of the kind and log spreads side by side, (m, p + clocks)."""
        return np.concatenate([self.kind, np.log(self.spread)], axis=1)

    @property
    def trusted(self) -> bool:
        """Whether the tail of the weights is light enough."""
        return self.diagnostics.pareto_k <= TRUSTED_K

    def picked(self, count: int, random: np.random.Generator) -> IntArray:
        """Equally weighted draws, as indices, in random order."""
        steps = (np.arange(count) + random.random()) / count
        index = np.searchsorted(np.cumsum(self.weight), steps)
        return random.permutation(np.minimum(index, len(self.weight) - 1))

    def without(self, group: int) -> FloatArray | None:
        """Weights with one group's rows left out, sum 1, (m,); None where their tail is too heavy."""
        sound = (self.weight > 0) & np.isfinite(self.own[group])
        logs = np.full(len(self.weight), -np.inf)
        logs[sound] = np.log(self.weight[sound]) - self.own[group, sound]
        weights, k = smoothed_weights(logs)
        return weights if k <= TRUSTED_K else None

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


@dataclass(frozen=True, eq=False)
class _Target:
    """The posterior of a kind and its spreads, groups averaged out; vectors are (parameters of the kind, log spreads)."""

    links: tuple[Link, ...]
    best: AtSpread
    grid: SpreadGrid
    prior: LifePrior

    def own(self, both: FloatArray) -> FloatArray:
        """Log average of each group's rows, (groups, m)."""
        kind, log_spread = np.split(both, [len(self.prior.mean)], axis=1)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            each = groups_around(self.links, self.best, kind, np.exp(self.grid.into(log_spread)))
            return np.stack([group.log_average() for group in each])

    def total(self, both: FloatArray, own: FloatArray) -> FloatArray:
        """Log posterior up to a constant, (m,); -inf where it cannot be told."""
        kind, log_spread = np.split(both, [len(self.prior.mean)], axis=1)
        value = own.sum(axis=0) + self.grid.log_prior(log_spread)
        value -= 0.5 * (((kind - self.prior.mean) / self.prior.spread) ** 2).sum(axis=1)
        return np.where(np.isfinite(value) & self.grid.holds(log_spread), value, -np.inf)

    def log_density(self, both: FloatArray) -> FloatArray:
        """The same from the vectors alone."""
        return self.total(both, self.own(both))

    def weighed(self, both: FloatArray, log_proposal: FloatArray) -> KindDraws:
        """Draws from a proposal with their weights."""
        own = self.own(both)
        weights, k = smoothed_weights(self.total(both, own) - log_proposal)
        said = Diagnostics(float(1 / (weights**2).sum()), k, "importance sampling, groups averaged out")
        return self.draws(both, weights, own, said)

    def draws(self, both: FloatArray, weight: FloatArray, own: FloatArray, said: Diagnostics) -> KindDraws:
        """Vectors taken apart."""
        kind, log_spread = np.split(both, [len(self.prior.mean)], axis=1)
        return KindDraws(kind, np.exp(log_spread), weight, own, said)


def draw_kind(
    links: tuple[Link, ...], fits: list[AtSpread], grid: SpreadGrid, prior: LifePrior, seed: int
) -> KindDraws:
    """Draw the kind and its spreads.

    Where the weights are few or not to be trusted the draws are made once more from around the first ones; where the tail index of these
    is above 0.7 too, an ensemble of walkers takes over.
    """
    random = np.random.default_rng(seed)
    target = _Target(links, max(fits, key=lambda fit: fit.log_marginal), grid, prior)
    cells = grid.fine_weights(np.array([fit.log_marginal for fit in fits]))
    first = target.weighed(*_proposed(fits, grid, cells, random))
    if first.trusted and first.diagnostics.effective_sample_size >= _ENOUGH:
        return first
    again = target.weighed(*_proposed_around(first, random))
    best = max(first, again, key=lambda found: (found.trusted, found.diagnostics.effective_sample_size))
    return best if best.trusted else _walked(target, best, random)


def _walked(target: _Target, so_far: KindDraws, random: np.random.Generator) -> KindDraws:
    """Draws by walkers that set out from the draws so far."""
    both = so_far.both
    begin = both[so_far.picked(_WALKERS, random)]
    begin = begin + 0.05 * both.std(axis=0) * random.standard_normal(begin.shape)
    width = so_far.kind.shape[1]
    begin[:, width:] = target.grid.into(begin[:, width:])
    mode = both[int(np.argmax(so_far.weight))]
    chain = walk(target.log_density, begin, mode, np.ones(both.shape[1], dtype=np.bool_), random)
    rows = np.linspace(0, len(chain.values) - 1, len(both)).round().astype(int)
    k = so_far.diagnostics.pareto_k
    said = f"ensemble of walkers (importance weights had Pareto k {k:.2f})"
    even = np.full(len(rows), 1 / len(rows))
    own = target.own(chain.values[rows])
    return target.draws(chain.values[rows], even, own, Diagnostics(chain.effective_sample_size, k, said))


def _proposed(
    fits: list[AtSpread], grid: SpreadGrid, cells: FloatArray, random: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Vectors and their log density, from the joint fits."""
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
    both = np.concatenate([kind, log_spread], axis=1)
    return both, np.log(mass[cell]) + log_t - np.linalg.slogdet(roots)[1][near]


def _proposed_around(first: KindDraws, random: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """The same from one t law with the mean and covariance of draws so far."""
    both = first.both
    middle = first.weight @ both
    off = both - middle
    covariance = np.einsum("n,ni,nj->ij", first.weight, off, off)
    root = _WIDER * np.linalg.cholesky(covariance + 1e-6 * np.diag(np.diag(covariance)))
    offset, log_t = _t(len(both), both.shape[1], random)
    return middle + offset @ root.T, log_t


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
