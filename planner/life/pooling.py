"""Partial pooling: the book, everybody's histories of a kind, and the groups among them, in one fit.

A group is whatever sets parts of one kind apart: engine family, part grade, storage, years of production. All groups share the shapes;
the ln scales of a group stand off those of the kind by a normal amount, clock by clock, whose standard deviation is itself estimated
(:mod:`planner.life.groups.group_spread`). All lives are draws of one joint posterior (:mod:`planner.life.groups.pooled_draws`), so no row counts
twice: a group with many rows goes its own way, one with few stays near the kind.

A cohort that is another material, such as degradable insulation, is no group in this sense and no multiplier either: it fails by
another law. Name it in ``apart`` with a prior of its own; it neither borrows nor lends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

import numpy as np

from planner.errors import SpellError
from planner.life.checks import count, seed_number
from planner.life.fit import fit_life
from planner.life.groups.group_rows import by_group_of, check_named, check_rows
from planner.life.groups.group_spread import USUAL_SPREAD, GroupSpread, SpreadGrid
from planner.life.groups.linked_lives import Link, Linked, own_rows
from planner.life.groups.pooled_draws import AtSpread, draw_kind, groups_around
from planner.life.model import ClockLife, Evidence, Life
from planner.life.prior import share_left

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence

    from planner.history.spells import FloatArray, Spells
    from planner.life.counts.binning import BinnedSpells
    from planner.life.groups.linked_lives import OwnRows
    from planner.life.groups.pooled_draws import KindDraws
    from planner.life.joined_rows import JoinedRows
    from planner.life.prior import LifePrior
    from planner.life.row_parts import IntArray

G = TypeVar("G", bound="Hashable")


@dataclass(frozen=True, eq=False)
class GroupLife:
    """The life of one group and what it rests on.

    Attributes:
        life: usable like any fitted life; its evidence counts the group's own rows, its prior_share what is book.
        borrowed_histories: sum of the weights of the other groups' rows that it leans on.
        borrowed_failures: of those that failed.
        borrowed_share: how much of it is the other groups', from 0 to 1; own rows have the rest.
    """

    life: Life
    borrowed_histories: float
    borrowed_failures: float
    borrowed_share: float

    @property
    def own_share(self) -> float:
        """How much of it is the group's own rows."""
        return max(0.0, 1.0 - self.life.evidence.prior_share - self.borrowed_share)

    @property
    def words(self) -> str:
        """What it rests on."""
        own = self.life.evidence
        return (
            f"from {own.histories:.3g} of its own histories ({own.failures:.3g} failed) and {self.borrowed_histories:.3g} of other "
            f"groups ({self.borrowed_failures:.3g} failed): {self.own_share:.0%} its own, {self.borrowed_share:.0%} other "
            f"groups, {own.prior_share:.0%} book"
        )


@dataclass(frozen=True, eq=False)
class PooledFit(Generic[G]):
    """Lives of all groups of a kind.

    Attributes:
        groups: each group's life; cohorts apart among them.
        unseen: the life of a group of which nothing is known: the kind's, widened by the spread between groups.
        spread: how far groups stand apart, clock by clock.
    """

    groups: Mapping[G, GroupLife]
    unseen: Life
    spread: tuple[GroupSpread, ...]

    def life_of(self, group: G) -> Life:
        """The life to plan a group's parts by: its own, or that of an unseen group where it has no rows."""
        return self.groups[group].life if group in self.groups else self.unseen


def fit_pooled(
    spells: Spells | Mapping[G, Spells | BinnedSpells],
    groups: Sequence[G] | None,
    prior: LifePrior,
    *,
    apart: Mapping[G, LifePrior] | None = None,
    joined: Mapping[G, Sequence[JoinedRows]] | None = None,
    usual_spread: float = USUAL_SPREAD,
    seed: int = 0,
    draws: int = 400,
) -> PooledFit[G]:
    """Fit the lives of all groups of a kind at once.

    Args:
        spells: rows of one kind, or rows (or counts of them) by group.
        groups: the group of each row, (n,); None where the spells come by group.
        prior: of the kind, as for :func:`planner.life.fit.fit_life`.
        apart: cohorts that are another material, each with a prior of its own; they are fitted by themselves.
        joined: further evidence that stays rows, by group.
        usual_spread: scale of the half-normal prior of the spread between groups.
        seed: of the random numbers behind the draws.
        draws: how many to keep of each life.

    Raises:
        SpellError: rows and groups that do not match, or clocks that differ.
        InputError: a group apart or joined that no spell has, or fewer than one draw.
        PriorError: a prior on other clocks, or a usual spread not above 0.
        FitNotConverged: the optimiser stopped short.
    """
    by_group = by_group_of(spells, groups)
    extra, alone = dict(joined or {}), dict(apart or {})
    check_rows(by_group, prior, usual_spread)
    check_named(by_group, apart=alone, joined=extra)
    count("draws", draws)
    seed_number(seed)
    together = {name: rows for name, rows in by_group.items() if name not in alone}
    if not together:
        raise SpellError("apart", "at least one group that is not apart", list(alone))
    rows = {name: own_rows(own, extra.get(name, ())) for name, own in together.items()}
    found, unseen, spread = _pool(rows, prior, usual_spread, seed=seed, draws=draws)
    for name in by_group:
        if name in alone:
            life = fit_life(by_group[name], alone[name], seed=seed, draws=draws, joined=extra.get(name, ()))
            found[name] = GroupLife(life, 0.0, 0.0, 0.0)
    return PooledFit({name: found[name] for name in by_group}, unseen, spread)


def _pool(
    rows: Mapping[G, OwnRows], prior: LifePrior, usual: float, *, seed: int, draws: int
) -> tuple[dict[G, GroupLife], Life, tuple[GroupSpread, ...]]:
    clocks = prior.clocks
    grid = SpreadGrid(clocks, usual)
    links = tuple(Link(own, _design(len(clocks), i, len(rows))) for i, own in enumerate(rows.values()))
    fits = _fits(links, prior, grid)
    kind = draw_kind(links, fits, grid, prior, seed)
    random = np.random.default_rng(seed + 1)
    picked = kind.picked(draws, random)
    best = max(fits, key=lambda fit: fit.log_marginal)
    each = groups_around(links, best, kind.kind[picked], kind.spread[picked])
    found = {}
    for number, (name, own) in enumerate(rows.items()):
        others = [rest for other, rest in rows.items() if other != name]
        found[name] = _group_life(own, kind, number, each[number].draw(random), prior, others)
    spread = tuple(
        GroupSpread.of(clock, kind.quantiles(i, [0.1, 0.5, 0.9]), len(rows), usual)
        for i, clock in enumerate(clocks)
    )
    return found, _unseen(kind, picked, prior, list(rows.values()), random), spread


def _fits(links: tuple[Link, ...], prior: LifePrior, grid: SpreadGrid) -> list[AtSpread]:
    """The joint fit at every spread, each begun where its neighbour ended."""
    kind, clocks, groups = len(prior.mean), len(prior.clocks), len(links)
    same = tuple(Link(link.rows, np.eye(kind)) for link in links)
    begin, _ = Linked(same, prior.mean, prior.spread**-2.0).peak(prior.mean)
    shared = np.concatenate([begin.theta, np.zeros(groups * clocks)])
    centre = np.concatenate([prior.mean, np.zeros(groups * clocks)])
    fits: list[AtSpread] = []
    for number, spread in enumerate(grid.spreads):
        precision = np.concatenate([prior.spread**-2.0, np.tile(spread**-2.0, groups)])
        problem = Linked(links, centre, precision)
        above = number - len(grid.each)
        peak, covariance = problem.peak(fits[above].shared if above >= 0 else shared)
        shared = peak.theta
        log_marginal = peak.value * problem.unit + 0.5 * float(np.linalg.slogdet(covariance)[1])
        log_marginal -= groups * float(np.log(spread).sum())
        fits.append(AtSpread(shared, covariance, log_marginal))
    return fits


def _design(clocks: int, number: int, groups: int) -> FloatArray:
    """From (the kind's parameters, every group's offsets of ln scale) to one group's parameters."""
    out = np.zeros((2 * clocks, 2 * clocks + groups * clocks))
    out[:, : 2 * clocks] = np.eye(2 * clocks)
    for clock in range(clocks):
        out[2 * clock + 1, (2 + number) * clocks + clock] = 1.0
    return out


def _group_life(
    rows: OwnRows, kind: KindDraws, number: int, values: FloatArray, prior: LifePrior, others: list[OwnRows]
) -> GroupLife:
    covariance = np.cov(values.T)
    book = _book_share(covariance, kind, prior)
    from_all = _share_of_all(rows, kind, number, values, covariance, book) if others else book
    book = min(book, from_all)
    theta = values.mean(axis=0)
    life = _life(prior, values, kind, rows.log_likelihood(theta), rows.histories, rows.failures, book)
    histories, failures = sum(o.histories for o in others), sum(o.failures for o in others)
    return GroupLife(life, histories, failures, from_all - book)


def _unseen(
    kind: KindDraws, picked: IntArray, prior: LifePrior, rows: list[OwnRows], random: np.random.Generator
) -> Life:
    """The kind's life with one more group's offset added to each draw."""
    values, spread = kind.kind[picked], kind.spread[picked]
    values[:, 1::2] += spread * random.standard_normal(spread.shape)
    share = _book_share(np.cov(values.T), kind, prior)
    value = sum(own.log_likelihood(values.mean(axis=0)) for own in rows)
    histories, failures = sum(own.histories for own in rows), sum(own.failures for own in rows)
    return _life(prior, values, kind, value, histories, failures, share)


def _book_share(covariance: FloatArray, kind: KindDraws, prior: LifePrior) -> float:
    """What of a group's certainty the book alone would have given."""
    book = prior.spread**2
    book[1::2] += kind.weight @ kind.spread**2
    return share_left(np.diag(covariance), book)


def _share_of_all(
    rows: OwnRows,
    kind: KindDraws,
    number: int,
    values: FloatArray,
    covariance: FloatArray,
    book: float,
) -> float:
    """What of a group's certainty the book and the other groups would have given without its own rows.

    From the draws with its rows weighed out; where that leaves too few, from the information of its rows at the mean of its draws, and
    never less than the book alone.
    """
    weight = kind.without(number)
    if weight is None:
        curve, axes = np.linalg.eigh(-rows.at(values.mean(axis=0)).hessian)
        information = (axes * np.maximum(curve, 0.0)) @ axes.T
        return max(book, 1 - float(np.trace(covariance @ information)) / len(covariance))
    off = kind.kind - weight @ kind.kind
    wide = np.einsum("n,ni,nj->ij", weight, off, off)
    wide[1::2, 1::2] += np.diag(weight @ kind.spread**2)
    return min(1.0, float(np.trace(covariance @ np.linalg.inv(wide))) / len(covariance))


def _life(
    prior: LifePrior,
    draws: FloatArray,
    kind: KindDraws,
    log_likelihood: float,
    histories: float,
    failures: float,
    book: float,
) -> Life:
    """A life whose estimate is the mean of its draws in ln shape and ln scale."""
    values = np.exp(draws.mean(axis=0))
    laws = {
        clock: ClockLife(float(values[2 * i]), float(values[2 * i + 1]))
        for i, clock in enumerate(prior.clocks)
    }
    return Life(
        laws.get("distance"),
        laws.get("age"),
        log_likelihood=log_likelihood,
        covariance=np.cov(draws.T),
        draws=draws,
        evidence=Evidence(histories, failures, book),
        diagnostics=kind.diagnostics,
        prior=prior,
        derived=True,
    )
