"""Exact joint probabilities of the fault model, in closed form: products over parts, never sets of faults.

The model (independent faults, noisy "or" with a leak): part i is faulty with p_i; a faulty part shows the
complaint with c_i, and goes on showing it; something else shows it with the leak. Hence
P(complaint | set of faults) = 1 - (1 - leak) * prod(1 - c_i). The complaint was there at every moment from the
first to the last renewal without cure, so each moment must have something that shows it. A part that was never
renewed, and the leak, cover all moments; a renewed part and its successor cover the moments they were in place.

Everything works on numbers or on arrays of one value per draw alike. Within a term, sums and products of positive
terms only: no difference of nearly equal numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.faults.belief import Belief, Piece
    from planner.faults.picture import Picture
    from planner.faults.values import Chance


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """Joint probabilities with the evidence (complaint all along, checks' results); one number or one per draw.

    Attributes:
        evidence: P(evidence).
        faulty: per candidate, P(the part in place is faulty, evidence).
        cause: per candidate, P(the part in place shows the complaint, evidence).
        something_else: P(something else shows it, evidence).
        something_else_alone: P(something else shows it and no part in place does, evidence).
        at_most_one: P(no more than one part in place is faulty, evidence).
    """

    evidence: Chance
    faulty: tuple[Chance, ...]
    cause: tuple[Chance, ...]
    something_else: Chance
    something_else_alone: Chance
    at_most_one: Chance


def either(first: Chance, second: Chance) -> Chance:
    """P(A or B) of independent A and B."""
    return first + (1.0 - first) * second


def evidence_probability(picture: Picture) -> Chance:
    """P(complaint at every moment, checks' results)."""
    total: Chance = 0.0
    for weight, belief in picture.terms:
        total = total + weight * _evidence(belief)
    return total


def joint(picture: Picture) -> Joint:
    """All joint probabilities; per term, time linear in the number of parts and quadratic in the renewals."""
    (weight, belief), *others = picture.terms
    total = _scaled(_joint(belief), weight)
    for weight, belief in others:
        total = _sum(total, _scaled(_joint(belief), weight))
    return total


def _scaled(term: Joint, weight: float) -> Joint:
    return Joint(
        evidence=weight * term.evidence,
        faulty=tuple(weight * chance for chance in term.faulty),
        cause=tuple(weight * chance for chance in term.cause),
        something_else=weight * term.something_else,
        something_else_alone=weight * term.something_else_alone,
        at_most_one=weight * term.at_most_one,
    )


def _sum(one: Joint, other: Joint) -> Joint:
    return Joint(
        evidence=one.evidence + other.evidence,
        faulty=tuple(a + b for a, b in zip(one.faulty, other.faulty, strict=True)),
        cause=tuple(a + b for a, b in zip(one.cause, other.cause, strict=True)),
        something_else=one.something_else + other.something_else,
        something_else_alone=one.something_else_alone + other.something_else_alone,
        at_most_one=one.at_most_one + other.at_most_one,
    )


def _evidence(belief: Belief) -> Chance:
    """The same of one term."""
    lasting: Chance = belief.leak
    mass: Chance = 1.0
    for piece in belief.in_place:
        mass = mass * piece.mass
        if piece.first == 0:
            lasting = either(lasting, piece.acts)
    for piece in belief.removed:
        mass = mass * piece.mass
    return mass * either(lasting, _covered(belief, {}))


def _joint(belief: Belief) -> Joint:
    """The same of one term."""
    without = _lasting_without_each(belief)
    passing = _covered(belief, {})
    lasting: Chance = belief.leak
    mass: Chance = 1.0
    for piece in (*belief.in_place, *belief.removed):
        mass = mass * piece.mass
    faulty, cause = [], []
    for position, piece in enumerate(belief.in_place):
        if piece.first == 0:
            lasting = either(lasting, piece.acts)
            shown: Chance = 1.0
            hidden = either(without[position], passing)
        else:
            shown = either(without[position], _covered(belief, {position: 1.0}))
            hidden = either(without[position], _covered(belief, {position: 0.0}))
        cause.append(mass * piece.acts * shown)
        faulty.append(mass * piece.weight * (piece.share * shown + (1.0 - piece.share) * hidden))
    return Joint(
        evidence=mass * either(lasting, passing),
        faulty=tuple(faulty),
        cause=tuple(cause),
        something_else=mass * belief.leak,
        something_else_alone=mass * belief.leak * _none_acts(belief.in_place),
        at_most_one=mass * _at_most_one_faulty(belief),
    )


def curable_and_not(belief: Belief) -> tuple[list[float], float]:
    """Per place, P(a part never renewed shows the complaint); and P(it shows without any of them).

    The second holds the leak and the new parts that came out bad: what no further renewal here would cure.
    """
    acts = [float(piece.acts) if piece.first == 0 else 0.0 for piece in belief.in_place]
    return acts, float(either(belief.leak, _covered(belief, {})))


def _lasting_without_each(belief: Belief) -> list[Chance]:
    """Per position, P(the leak or another never-renewed part shows it): running unions from both ends."""
    acts: list[Chance] = [piece.acts if piece.first == 0 else 0.0 for piece in belief.in_place]
    before: list[Chance] = [belief.leak]
    for act in acts:
        before.append(either(before[-1], act))
    after: Chance = 0.0
    without: list[Chance] = []
    for position in range(len(acts) - 1, -1, -1):
        without.append(either(before[position], after))
        after = either(after, acts[position])
    return without[::-1]


def _covered(belief: Belief, acting: dict[int, float]) -> Chance:
    """P(at every moment some piece of a renewed position shows it).

    `acting` fixes whether the piece in place at a position acts (1) or not (0). Walks the moments, carrying the
    distribution of how far the pieces that act reach without a gap.
    """
    if not belief.removed:
        return 0.0
    moments = belief.renewals + 1
    pieces = [(piece, piece.acts) for piece in belief.removed]
    pieces += [
        (piece, acting.get(position, piece.acts))
        for position, piece in enumerate(belief.in_place)
        if piece.first > 0
    ]
    reach: list[Chance] = [0.0] * (moments + 1)
    reach[0] = 1.0
    for moment in range(moments):
        for piece, acts in pieces:
            if piece.first == moment:
                _extend(reach, moments if piece.last is None else piece.last, acts)
        reach[moment] = 0.0
    return reach[moments]


def _extend(reach: list[Chance], end: int, acts: Chance) -> None:
    """Let a piece that acts carry shorter reaches on to the moment it went out."""
    for short in range(end):
        reach[end] = reach[end] + reach[short] * acts
        reach[short] = reach[short] * (1.0 - acts)


def _none_acts(pieces: Sequence[Piece]) -> Chance:
    """P(no piece in place shows it)."""
    result: Chance = 1.0
    for piece in pieces:
        result = result * (1.0 - piece.acts)
    return result


def _at_most_one_faulty(belief: Belief) -> Chance:
    """P(none or one part in place faulty, complaint all along), the checks' masses left out."""
    sound: list[Chance] = [piece.sound / piece.mass for piece in belief.in_place]
    before: list[Chance] = [1.0]
    for chance in sound:
        before.append(before[-1] * chance)
    total: Chance = before[-1] * belief.leak
    after: Chance = 1.0
    nobody = dict.fromkeys(range(len(sound)), 0.0)
    for position in range(len(sound) - 1, -1, -1):
        piece = belief.in_place[position]
        alone = 1.0 if piece.first == 0 else _covered(belief, {**nobody, position: 1.0})
        shows = either(belief.leak, piece.share * alone)
        total = total + before[position] * after * piece.weight * shows
        after = after * sound[position]
    return total
