"""A life from what a fleet's records say, together with what its circumstances do: the one fit of a refit."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from api.bridge.in_force.book_lives import book_life_of
from api.bridge.in_force.effects import Taught
from api.bridge.learning import shared
from api.bridge.learning.learn import FIT_DRAWS, FIT_SEED
from planner.catalogue import load_catalogue
from planner.errors import FitError, TooFewFailures
from planner.life.fit import fit_life
from planner.life.joined_rows import nothing_seen
from planner.life.modifiers.fitted import fit_modified
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from api.bridge.in_force.models import Source
    from api.bridge.in_force.terms import Terms
    from api.bridge.learning.learn import Learnt
    from planner.life.model import Life
    from planner.life.prior import LifePrior


@dataclass(frozen=True)
class Fitted:
    """A life in the usual circumstances.

    Attributes:
        life: of such parts.
        source: "book" or "fitted".
        taught: what the records taught of multipliers on it, by modifier.
        by_book: how many parts in other circumstances were set on the usual clocks by the book's multipliers.
    """

    life: Life
    source: Source
    taught: dict[str, Taught] = field(default_factory=dict)
    by_book: int = 0

    @property
    def factors(self) -> dict[str, float]:
        """The learnt multipliers, by modifier."""
        return {name: one.factor for name, one in self.taught.items()}


def fitted(kind: str, terms: Terms, learnt: Learnt, known: shared.Others | None) -> Fitted:
    """Fit a kind's life; where rows are in circumstances of their own, together with what those do.

    Args:
        kind: of which part.
        terms: clocks, and whether the book's expectation counts.
        learnt: what the records say.
        known: what other fleets teach, if they do.

    Raises:
        TooFewFailures, ClockNotIdentified, FitNotConverged: the data cannot carry the fit.
    """
    if learnt.empty and known is None:
        if terms.prior == "none":
            raise TooFewFailures(
                "no history of this kind can be used: without a prior there is nothing to fit"
            )
        return Fitted(book_life_of(kind, terms.clocks), "book")
    if terms.prior == "none" and learnt.spells is not None:
        return Fitted(fit_life(learnt.spells, None, seed=FIT_SEED, draws=FIT_DRAWS), "fitted")
    book = book_prior(load_catalogue()[kind], terms.clocks)
    prior = book if known is None else shared.prior_of(kind, terms, known)
    if any(learnt.keys):
        return _with_circumstances(learnt, prior)
    spells = learnt.spells
    if spells is None:  # all that is known is of unknown day, or shared
        spells = nothing_seen(
            prior.clocks, [one.p50 for one in (prior.distance, prior.age) if one is not None]
        )
    life = fit_life(spells, prior, seed=FIT_SEED, draws=FIT_DRAWS, joined=learnt.joined)
    return Fitted(life, "fitted", by_book=learnt.by_book)


def _with_circumstances(learnt: Learnt, prior: LifePrior) -> Fitted:
    """The joint fit; where that does not settle, the life alone with the book's multipliers taken as they are."""
    spells, told = learnt.spells, learnt.told
    if spells is None or told is None:
        raise ValueError("rows in circumstances are spells")
    modifiers = told.among(learnt.keys)
    x = told.settings(learnt.keys, modifiers)
    try:
        fit = fit_modified(spells, x, modifiers, prior, seed=FIT_SEED, draws=FIT_DRAWS, joined=learnt.joined)
    except FitError:
        usual = learnt.on_usual_clocks().spells
        life = fit_life(usual or spells, prior, seed=FIT_SEED, draws=FIT_DRAWS, joined=learnt.joined)
        return Fitted(life, "fitted", by_book=learnt.by_book + sum(map(bool, learnt.keys)))
    failed = ~spells.censored
    taught = {
        one.name: Taught(
            float(np.exp(fit.gamma[i])),
            tuple(fit.gamma_draws[:, i].tolist()),
            float(spells.weight @ x[:, i]),
            float((spells.weight * failed) @ x[:, i]),
        )
        for i, one in enumerate(modifiers)
    }
    return Fitted(fit.life, "fitted", taught, learnt.by_book)
