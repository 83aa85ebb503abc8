"""What repairs of a kind leave of its wear: which repairs take wear off, off which clock, and how much, learnt action by action.

Cleaning, dressing and mending take wear off; a part re-gapped or adjusted carries its wear on (trade notes). They work on the
kind's first clock: where distance wears a part its ageing goes on whatever is cleaned (judgement, the more careful of the two
readings that the trade notes give).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.history.conversion import spells_from
from planner.history.spells import Spells
from planner.history.virtual_age import VirtualAge
from planner.life.repair import EXPECTED_LEFT, share_left

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock
    from planner.life.prior import LifePrior
    from planner.life.repair import ShareLeft

TAKES_WEAR_OFF = ("cleaned", "dressed", "repaired")
"""The repairs after which a part counts as less worn; the same prior for each (judgement)."""

_NODES = 16


@dataclass(frozen=True)
class RepairShare:
    """Posterior of the share q of its clock that a part keeps after one kind of repair.

    Attributes:
        mean: posterior mean, which forecasts go by.
        low, high: its 80 % limits.
        prior_share: variance of q against that of its prior, from 0 to 1: 1 means all book.
        repairs: how many such repairs of parts that gave life data.
    """

    mean: float
    low: float
    high: float
    prior_share: float
    repairs: int


def expected_share() -> RepairShare:
    """What the trade notes expect where no repair is on record: q from 0.3 to 0.9."""
    a, b = EXPECTED_LEFT
    left = (np.arange(2_000) + 0.5) / 2_000
    mass = left ** (a - 1) * (1 - left) ** (b - 1)
    low, high = np.interp([0.1, 0.9], np.cumsum(mass / mass.sum()), left)
    return RepairShare(a / (a + b), float(low), float(high), 1.0, 0)


def set_back(shares: Mapping[str, RepairShare], clocks: Sequence[Clock]) -> VirtualAge:
    """How far repairs set the clocks back, at the means; what was not learnt is as the trade notes expect."""
    book = expected_share().mean
    means = {action: shares[action].mean if action in shares else book for action in TAKES_WEAR_OFF}
    return VirtualAge({(action, clocks[0]): mean for action, mean in means.items()})


def takes_wear_off(history: PartHistory) -> bool:
    """Whether a part had a repair that did."""
    return any(repair.action in TAKES_WEAR_OFF for repair in history.repairs)


def repair_shares(
    repaired: Sequence[PartHistory], others: Spells | None, prior: LifePrior, today: date
) -> dict[str, RepairShare]:
    """Posterior of q for each repair on record, the other ones taken at what is expected of them.

    Args:
        repaired: the parts of one kind that had such repairs.
        others: life data of all other parts of the kind; None where there are none.
        prior: of the life; its clocks are those that are fitted.
        today: no record may be later.

    Raises:
        FitNotConverged: a life could not be fitted.
    """
    found = {}
    for action in TAKES_WEAR_OFF:
        count = _count(repaired, action, prior.clocks, today)
        if count:
            posterior = share_left(
                _spells_at(repaired, others, action, prior.clocks, today), prior, nodes=_NODES
            )
            found[action] = _summed_up(posterior, count)
    return found


def _count(repaired: Sequence[PartHistory], action: str, clocks: Sequence[Clock], today: date) -> int:
    """Repairs of one kind done to parts that give rows."""
    done = {h.fitment.ref: sum(r.action == action for r in h.repairs) for h in repaired}
    if not any(done.values()):
        return 0
    rows = spells_from(repaired, clocks, today, contradictions="leave out").rows
    return sum(done[ref] for ref in {row.ref for row in rows})


def _spells_at(
    repaired: Sequence[PartHistory],
    others: Spells | None,
    action: str,
    clocks: Sequence[Clock],
    today: date,
) -> Callable[[float], Spells]:
    book = dict(set_back({}, clocks).left)

    def spells_at(left: float) -> Spells:
        repairs = VirtualAge(book | {(action, clocks[0]): left})
        own = spells_from(repaired, clocks, today, contradictions="leave out", repairs=repairs).spells
        return Spells.concat([spells for spells in (own, others) if spells is not None])

    return spells_at


def _summed_up(posterior: ShareLeft, count: int) -> RepairShare:
    low, high = posterior.limits(0.8)
    a, b = EXPECTED_LEFT
    prior = a * b / ((a + b) ** 2 * (a + b + 1))
    spread = float((posterior.left - posterior.mean) ** 2 @ posterior.mass)
    return RepairShare(posterior.mean, low, high, min(1.0, spread / prior), count)
