"""How much searching one part is worth per unit of cost, and what the whole search costs if led by that.

For a single fault and perfect actions the best order is chance over cost (Kalagnanam & Henrion 1988; Heckerman,
Breese & Rommelse 1995). With checks that can be wrong, each part is a little project of its own: check it, renew
it if it shows bad, come back to it later if it does not. Counted under "this part is not the cause", the chance
that it is moves like a price, and the expected cost of the search is every chance still standing times the cost
of the time it stands: the "tax" form of the bandit problem (Gittins 1979; Varaiya, Walrand & Buyukkoc 1985; for
imperfect search of boxes, Blackwell in Chew 1967). The index of a part is

    the largest drop of its chance per expected cost, over all ways to work on it for a while,

which is chance over cost where there is nothing but the renewal. Leading with the highest index is optimal where
each part has one way to work on it; where a check may as well be skipped it is a good rule, no more. With second
faults the order is by the odds that a part shows the complaint, and the expected cost of that order stays exact
where each check looks at one part. The search therefore looks steps ahead over this figure.
"""

from __future__ import annotations

import math
import operator
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from collections.abc import Sequence

CheckFigures: TypeAlias = tuple[float, float, float]
"""Cost of a check, P(shows bad | faulty), P(shows bad | sound)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Work on one part without interruption, at one index.

    All per unit of the part's chance at the start, expectations under "this part is not the cause".

    Attributes:
        index: drop of the chance per unit of cost.
        cost: expected cost (probability of coming here counted in).
        drop: expected drop of the chance.
        own: expected cost where this part is the cause.
    """

    index: float
    cost: float
    drop: float
    own: float


@dataclass(frozen=True, slots=True)
class LastResort:
    """What handing over costs: the search, and the cure of what is found.

    Attributes:
        search: the specialist's search.
        cures: renewal of each part, where it is guilty.
        elsewhere: cure of anything else.
    """

    search: float
    cures: Sequence[float]
    elsewhere: float


@dataclass(frozen=True, slots=True)
class _Work:
    """Expected outcome of a way to work on a part: gain = drop - index * cost, and the states where it stops."""

    gain: float
    cost: float
    drop: float
    own: float
    ends: tuple[tuple[float, float, tuple[CheckFigures, ...]], ...]


@lru_cache(maxsize=20_000)
def stretches(renewal: float, stays: float, checks: tuple[CheckFigures, ...]) -> tuple[Stretch, ...]:
    """All work on one part, as stretches of falling index.

    Args:
        renewal: cost of renewing it.
        stays: chance that the complaint stays although this part was the cause (a bad new part).
        checks: checks still open on it.
    """
    best = _best_stretch(renewal, stays, checks)
    found = [Stretch(best.drop / best.cost, best.cost, best.drop, best.own)]
    for reached, likelihood, left in best.ends:
        found += [
            Stretch(
                s.index * likelihood,
                s.cost * reached,
                s.drop * reached * likelihood,
                s.own * reached * likelihood,
            )
            for s in stretches(renewal, stays, left)
        ]
    return tuple(found)


def remaining_cost(
    acts: Sequence[float], work: Sequence[tuple[Stretch, ...]], last_resort: LastResort, elsewhere: float
) -> float:
    """Expected cost to the cure when the highest index leads and the rest is handed over at the best moment.

    Exact for this order of work under independent faults: work on a part costs its `own` where the part shows the
    complaint; where it does not, it costs `cost` as long as anything else still shows it.

    Args:
        acts: per part, P(it shows the complaint), the complaint itself not yet counted; below 1.
        work: stretches of each part; empty for a part that is not to be worked on.
        last_resort: costs of handing over.
        elsewhere: P(something shows the complaint that no work here can cure).
    """
    quiet = math.log1p(-elsewhere) + sum(math.log1p(-act) for act in acts)  # log P(nothing shows it any more)
    shown, spent, left, search = -math.expm1(quiet), 0.0, list(acts), last_resort.search
    cures = elsewhere * last_resort.elsewhere + math.fsum(map(operator.mul, left, last_resort.cures))
    best = search * shown + cures
    for _, part, stretch in _in_order(acts, work):
        act, standing = acts[part], left[part]
        others = quiet - math.log1p(-standing)
        spent += act * stretch.own - (1.0 - act) * stretch.cost * math.expm1(min(others, 0.0))
        still = left[part] = max(standing - act * stretch.drop, 0.0)
        cures -= (standing - still) * last_resort.cures[part]
        quiet = min(others + math.log1p(-still), 0.0)
        best = min(best, spent - search * math.expm1(quiet) + cures)
    return best / shown


def _in_order(acts: Sequence[float], work: Sequence[tuple[Stretch, ...]]) -> list[tuple[float, int, Stretch]]:
    """All stretches, the one with the largest drop of "still not cured" per cost first."""
    entries = [
        (stretch.index * acts[part] / (1.0 - acts[part]), part, stretch)
        for part, row in enumerate(work)
        for stretch in row
    ]
    return sorted(entries, key=lambda entry: -entry[0])


@lru_cache(maxsize=20_000)
def _best_stretch(renewal: float, stays: float, checks: tuple[CheckFigures, ...]) -> _Work:
    """The way to work with the largest drop per cost, by Dinkelbach's iteration on the index."""
    index = (1.0 - stays) / max(renewal, 1e-9)
    for _ in range(50):
        work = max(_first_moves(renewal, stays, checks, 1.0, index), key=lambda way: way.gain)
        better = work.drop / max(work.cost, 1e-12)
        if better <= index * (1.0 + 1e-12):
            break
        index = better
    return work


def _first_moves(
    renewal: float, stays: float, checks: tuple[CheckFigures, ...], chance: float, index: float
) -> list[_Work]:
    """Renewing at once, or any check followed by the best continuation at this index."""
    drop = chance * (1.0 - stays)
    cost = max(renewal, 1e-9)
    moves = [_Work(drop - index * cost, cost, drop, cost * chance, ())]
    for number, check in enumerate(checks):
        left = checks[:number] + checks[number + 1 :]
        moves.append(_check_first(renewal, stays, check, left, chance, index))
    return moves


def _check_first(
    renewal: float,
    stays: float,
    check: CheckFigures,
    left: tuple[CheckFigures, ...],
    chance: float,
    index: float,
) -> _Work:
    cost, sensitivity, false_alarm = check
    spent, drop, own = cost, 0.0, cost * chance
    ends: list[tuple[float, float, tuple[CheckFigures, ...]]] = []
    outcomes = (
        (false_alarm, sensitivity / false_alarm),
        (1.0 - false_alarm, (1 - sensitivity) / (1 - false_alarm)),
    )
    for reached, ratio in outcomes:
        ahead = _continue(renewal, stays, left, chance * ratio, index)
        spent += reached * ahead.cost
        drop += reached * ahead.drop
        own += reached * ahead.own
        ends += [(reached * r, likelihood, rest) for r, likelihood, rest in ahead.ends]
    return _Work(drop - index * spent, spent, drop, own, tuple(ends))


def _continue(
    renewal: float, stays: float, checks: tuple[CheckFigures, ...], chance: float, index: float
) -> _Work:
    """Go on where that gains at this index, else stop and leave the part for later."""
    stop = _Work(0.0, 0.0, 0.0, 0.0, ((1.0, chance, checks),))
    best = max(_first_moves(renewal, stays, checks, chance, index), key=lambda way: way.gain)
    return best if best.gain > 0.0 else stop
