"""Whether records and prior say the same: how far the estimate lies from where the prior expected it.

Before any record, an estimate that will carry a share of the prior is expected around the prior's middle with the prior's variance
less its own (exact for normal laws): the distance in those terms is chi-squared. Where records say little, nothing can disagree.

References:
    Evans & Moshonov 2006, Bayesian Analysis 1:893-914 (checking for prior-data conflict; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.life.model import Life

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.prior import LifePrior

TELLING = 0.005
"""p below which the words say that records and prior disagree (judgement): with a dozen histories on two clocks p is below 0.01 in
two fleets of a hundred that agree, so that of sixty kinds fewer than one is named here."""

_LEARNT = 0.1
"""Least share of the prior's variance that records have taken away in a direction, for it to count."""


@dataclass(frozen=True)
class PriorCheck:
    """How far records stand off the prior.

    Attributes:
        p: chance of an estimate as far off, if the truth were drawn from the prior; 1 where records say too little.
        directions: in how many directions of the parameters the records speak (0 to 4).
        scale: by clock, estimated scale over the prior's.
        shape: by clock, estimated shape over the prior's.
        farthest: of the parameters that records tell of, the one off by most of its own prior's spreads, such as "scale of age".
    """

    p: float
    directions: int
    scale: dict[str, float]
    shape: dict[str, float]
    farthest: str

    @property
    def telling(self) -> bool:
        """Whether records and prior disagree."""
        return self.p < TELLING

    @property
    def words(self) -> str:
        """What it means."""
        if not self.directions:
            return "the records say too little to disagree with the book"
        if not self.telling:
            return f"the records are such as the book expects (p = {self.p:.2f})"
        name, _, clock = self.farthest.partition(" of ")
        factor = (self.scale if name == "scale" else self.shape)[clock]
        said = f"{'life' if name == 'scale' else 'evenness of life'} on the {clock} clock is {factor:.2g} times the book's"
        return (
            f"the records disagree with the book: {said}, which the book expects in about one fleet in a hundred, or fewer "
            f"(p = {self.p:.1g}); look at the records first, as the book is judgement for the most part"
        )


def against_prior(life: Life) -> PriorCheck:
    """Hold a fitted life against the prior that it was fitted with.

    Args:
        life: fitted with a prior.

    Raises:
        InputError: a life without a prior, with a shape that was given, or made from another one (of a group, a car, in
            circumstances): its law before any record is wider than the prior.
    """
    if not isinstance(life, Life) or life.prior is None or life.known_shape or life.derived:
        raise InputError("life", "a Life fitted with a prior itself, its shapes too", life)
    off, directions = _off(life, life.prior)
    ratios = np.exp(life.parameters - life.prior.mean)
    spreads = np.abs(life.parameters - life.prior.mean) / life.prior.spread
    learnt = np.diag(life.covariance) < (1.0 - _LEARNT) * life.prior.spread**2
    clocks = life.clocks
    worst = int(np.argmax(np.where(learnt, spreads, 0.0) if learnt.any() else spreads))
    return PriorCheck(
        p=_beyond(off, directions),
        directions=directions,
        scale={clock: float(ratios[2 * i + 1]) for i, clock in enumerate(clocks)},
        shape={clock: float(ratios[2 * i]) for i, clock in enumerate(clocks)},
        farthest=f"{('shape', 'scale')[worst % 2]} of {clocks[worst // 2]}",
    )


def _off(life: Life, prior: LifePrior) -> tuple[float, int]:
    """Squared distance in the directions that records speak of, and how many those are."""
    away: FloatArray = (life.parameters - prior.mean) / prior.spread
    kept = life.covariance / np.outer(prior.spread, prior.spread)
    learnt, axes = np.linalg.eigh(np.eye(len(away)) - kept)
    telling = learnt > _LEARNT
    return float(((axes.T @ away)[telling] ** 2 / learnt[telling]).sum()), int(telling.sum())


def _beyond(squared: float, directions: int) -> float:
    """Upper tail of chi-squared with 1 to 4 degrees of freedom, in closed form."""
    half = squared / 2
    if directions == 0:
        return 1.0
    if directions == 1:
        return math.erfc(math.sqrt(half))
    if directions == 2:
        return math.exp(-half)
    if directions == 3:
        return math.erfc(math.sqrt(half)) + math.sqrt(2 * squared / math.pi) * math.exp(-half)
    return (1 + half) * math.exp(-half)
