"""What other fleets that share teach about a kind: a prior from their records alone, never from the own ones twice.

A narrower level's prior is the wider level's posterior with that group's rows left out, widened by the spread between
groups: here the life of an unseen fleet, from all other fleets that share. It is made anew at each refit from whoever
shares then, and is stored nowhere but in the life that it helped to fit: a fleet that stops is forgotten at the next one.

Source: the model's partial pooling; `planner.life.pooling`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from api.bridge.in_force.terms import digest
from api.bridge.learning.learn import FIT_DRAWS, FIT_SEED, columns_of, learn
from api.fleets.store import fleets_that_share
from planner.catalogue import load_catalogue
from planner.life.pooling import fit_pooled
from planner.life.prior import ClockPrior, LifePrior, book_prior

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from planner.history.spells import FloatArray, Spells

FEWEST_FLEETS = 5
"""Fewer other fleets than this release nothing: their records could be told apart."""

_COUNTS_TO = 10


@dataclass(frozen=True)
class Others:
    """Rows of other fleets that share, one entry a fleet, without their names.

    Attributes:
        spells: sorted by what they say, so that the random ids of fleets decide nothing.
        fingerprint: of all of them.
    """

    spells: tuple[Spells, ...]
    fingerprint: str

    @property
    def counts(self) -> dict[str, int]:
        """How many fleets and histories it rests on, rounded down to fives and to tens."""
        histories = sum(float(one.weight.sum()) for one in self.spells)
        fleets = len(self.spells) // FEWEST_FLEETS * FEWEST_FLEETS
        return {"fleets": fleets, "histories": int(histories) // _COUNTS_TO * _COUNTS_TO}


def others(session: Session, fleet_id: str, kind: str, terms: Terms) -> Others | None:
    """What other fleets that share know about a kind; None where this one doesn't share, or too few others do.

    Args:
        session: any session.
        fleet_id: whose refit it is; its own rows are left out.
        kind: part kind.
        terms: of that fleet: its clocks are those that count, and without the book's prior nothing is shared.
    """
    sharing = fleets_that_share(session)
    if terms.prior == "none" or fleet_id not in sharing:
        return None
    learnt = [learn(session, other, kind, terms, own=False) for other in sharing if other != fleet_id]
    found = [one.on_usual_clocks().spells for one in learnt]
    rows = sorted(
        ((digest(columns_of(one)), number, one) for number, one in enumerate(found) if one is not None),
        key=lambda entry: entry[:2],
    )
    if len(rows) < FEWEST_FLEETS:
        return None
    return Others(tuple(one for _, _, one in rows), digest([name for name, _, _ in rows]))


def prior_of(kind: str, terms: Terms, known: Others) -> LifePrior:
    """The prior that other fleets' records give for a fleet of which nothing is known yet."""
    book = book_prior(load_catalogue()[kind], terms.clocks)
    fit = fit_pooled(dict(enumerate(known.spells)), None, book, seed=FIT_SEED, draws=FIT_DRAWS)
    draws = np.asarray(fit.unseen.draws)
    mean, spread = draws.mean(axis=0), draws.std(axis=0)
    clocks: dict[str, Any] = {
        clock: _clock(mean[2 * place : 2 * place + 2], spread[2 * place : 2 * place + 2])
        for place, clock in enumerate(book.clocks)
    }
    return LifePrior(**clocks)


def _clock(mean: FloatArray, spread: FloatArray) -> ClockPrior:
    """A clock's prior by its quantiles, from means and standard deviations of ln shape and ln scale."""
    shape, scale = math.exp(mean[0]), math.exp(mean[1])
    p10, p50 = (scale * (-math.log1p(-share)) ** (1.0 / shape) for share in (0.1, 0.5))
    return ClockPrior(p10, p50, spread_scale=float(spread[1]), spread_shape=float(spread[0]))
