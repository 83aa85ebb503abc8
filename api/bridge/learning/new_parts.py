"""How many new parts of a kind are bad, as the fleet's records say: for the costs of its intervals and for its life page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge.learning.learn import FIT_SEED
from planner.catalogue import load_catalogue
from planner.history.spells import Spells
from planner.life.fit import fit_life
from planner.life.new_parts.early_failures import early, early_as_censored, failed_at_once, span_of
from planner.life.new_parts.share import new_part_fault
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from api.bridge.in_force.terms import Terms
    from api.bridge.learning.learn import Learnt
    from planner.life.model import Life
    from planner.life.new_parts.share import NewPartFault

LEAST_EXPECTED = 0.001
"""Where the book expects no bad part at all, it is taken to expect one in a thousand: records can say otherwise."""


def new_parts(kind: str, terms: Terms, learnt: Learnt, life: Life) -> NewPartFault | None:
    """The posterior for one kind; None where no part was watched from new, or nothing of the book is wanted.

    Args:
        kind: of which part.
        terms: whether the book's expectation counts.
        learnt: what the records say.
        life: fitted to them, of sound parts where none failed early.
    """
    spells = learnt.spells
    if spells is None or terms.prior == "none" or not (spells.bounds[0].entry == 0).any():
        return None
    span = span_of(spells)
    if early(spells, span).any():
        prior = book_prior(load_catalogue()[kind], terms.clocks)
        sound = early_as_censored(spells, span)
        life = fit_life(sound, prior, seed=FIT_SEED, draws=1, joined=learnt.joined)
    if learnt.failed_at_once > 0:
        spells = Spells.concat([spells, failed_at_once(spells.clocks, learnt.failed_at_once)])
    if not spells.from_new.any():
        return None
    expected = max(LEAST_EXPECTED, load_catalogue()[kind].new_part_fault)
    return new_part_fault(spells, life, span=span, expected=expected)
