"""How much a repair in place helps: posterior of the share q of its clock that a part keeps after cleaning, dressing or mending.

Kijima (1989, J. Applied Probability 26:89-102), virtual age: q = 0 is as good as new, 1 as old as before. For each of a row of values
of q the life is fitted anew and weighed by its marginal likelihood (Laplace) and a Beta prior, so that q is never read off a life
that assumed it. Common practice, no source: cleaning worn contacts again and again buys little; q near 1 must not pass for "as new".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import InputError, PriorError, SpellError
from planner.history.conversion import spells_from
from planner.history.virtual_age import VirtualAge
from planner.life.fit import fit_life

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock, FloatArray, Spells
    from planner.life.prior import LifePrior

EXPECTED_LEFT = (2.0, 1.35)
"""Beta prior of q of cleaning and dressing: 0.3 to 0.9 in four cases of five (expert judgement)."""

_NODES = 24


@dataclass(frozen=True, eq=False)
class ShareLeft:
    """Posterior of q.

    Attributes:
        left: values of q, rising, (n,).
        mass: posterior probability of each, (n,).
        log_evidence: log marginal likelihood over q and the life, to compare Kijima's two forms by.
    """

    left: FloatArray
    mass: FloatArray
    log_evidence: float

    @property
    def mean(self) -> float:
        """Posterior mean of q."""
        return float(self.left @ self.mass)

    def limits(self, level: float = 0.8) -> tuple[float, float]:
        """Limits of q with equal tails, to the width of a step of the row of values.

        Raises:
            InputError: a level not between 0 and 1.
        """
        if not 0 < level < 1:
            raise InputError("level", "a number between 0 and 1", level)
        below = np.concatenate([[0.0], np.cumsum(self.mass)])
        edges = np.linspace(0, 1, len(self.left) + 1)
        low, high = np.interp([0.5 - level / 2, 0.5 + level / 2], below, edges)
        return float(low), float(high)

    @property
    def words(self) -> str:
        """What it means for a keeper."""
        low, high = self.limits()
        said = "helps little" if low > 0.7 else "nearly makes new" if high < 0.3 else "helps in part"
        return f"{said}: leaves {self.mean:.0%} of the wear (between {low:.0%} and {high:.0%})"


def share_left(
    spells_at: Callable[[float], Spells],
    prior: LifePrior,
    *,
    expected: tuple[float, float] = EXPECTED_LEFT,
    nodes: int = _NODES,
) -> ShareLeft:
    """Posterior of q where the spells can be had for any q.

    Args:
        spells_at: gives the spells on virtual clocks for a q.
        prior: of the life, on the spells' clocks; it decides where the data do not tell q from a longer life.
        expected: the two numbers of q's Beta prior.
        nodes: how many values of q, each the middle of an equal step.

    Raises:
        PriorError: numbers of the Beta prior that are not above 0.
        InputError: fewer than two nodes.
        FitNotConverged: a life could not be fitted.
    """
    if not all(0 < number < math.inf for number in expected):
        raise PriorError("expected", "two finite numbers above 0", expected)
    if nodes < 2:
        raise InputError("nodes", "at least 2", nodes)
    left = (np.arange(nodes) + 0.5) / nodes
    a, b = expected
    log_prior = (a - 1) * np.log(left) + (b - 1) * np.log1p(-left)
    log_prior -= float(np.logaddexp.reduce(log_prior))
    logs = log_prior + np.array([_log_marginal(spells_at(float(q)), prior) for q in left])
    evidence = float(np.logaddexp.reduce(logs))
    return ShareLeft(left, np.exp(logs - evidence), evidence)


def repair_effect(
    histories: Sequence[PartHistory],
    action: str,
    clock: Clock,
    prior: LifePrior,
    today: date,
    *,
    form: Literal["I", "II"] = "II",
    expected: tuple[float, float] = EXPECTED_LEFT,
) -> ShareLeft:
    """Posterior of q of one repair on one clock, from the histories of one part kind; other repairs leave the clocks alone.

    Args:
        histories: parts of one kind.
        action: "cleaned", "dressed", "re-gapped", "adjusted" or "repaired".
        clock: which of the life's clocks it sets back.
        prior: of the life; its clocks are those that are fitted.
        today: no record may be later.
        form: Kijima's type II (on all wear so far) or I (on the wear since the repair before).
        expected: the two numbers of q's Beta prior.

    Raises:
        InputError: a clock that the prior does not have.
        SpellError: no part had this repair, or no history gives a row.
        RecordError: a history contradicts itself.
    """
    if clock not in prior.clocks:
        raise InputError("clock", f"one of {', '.join(prior.clocks)}", clock)
    if not any(repair.action == action for history in histories for repair in history.repairs):
        raise SpellError("histories", f"at least one part that was {action}", action)

    def spells_at(left: float) -> Spells:
        found = spells_from(histories, prior.clocks, today, repairs=VirtualAge({(action, clock): left}, form))
        if found.spells is None:
            raise SpellError("histories", "at least one that gives life data", len(histories))
        return found.spells

    return share_left(spells_at, prior, expected=expected)


def _log_marginal(spells: Spells, prior: LifePrior) -> float:
    """Laplace: log likelihood plus log prior at the mode plus half the log determinant of the covariance."""
    life = fit_life(spells, prior, draws=1)
    off = (life.parameters - prior.mean) / prior.spread
    spread = float(np.linalg.slogdet(life.covariance)[1]) - 2 * float(np.log(prior.spread).sum())
    return life.log_likelihood - 0.5 * float(off @ off) + 0.5 * spread
