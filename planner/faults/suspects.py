"""Ranking of the suspects: how likely each part in place is the cause, and what of that is book and what this car."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.faults.joint import joint
from planner.faults.picture import picture_after
from planner.faults.values import ALMOST_SURE, fault_chance
from planner.faults.words import odds_in_words, times_in_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.faults.belief import Piece
    from planner.faults.joint import Joint
    from planner.faults.values import Candidate, Chance, FaultFinding

LOW, HIGH = 0.1, 0.9
"""Ends of the 80 % interval over the draws."""


@dataclass(frozen=True)
class Suspect:
    """One part in place, given all that is known.

    Attributes:
        part: its reference.
        name: what the keeper calls it.
        cause: P(it shows the complaint); with `something_else` these add up to 1 or more: causes may coincide.
        faulty: P(it is faulty), whether or not that shows here.
        low: 10 % point of `cause` over the draws, or `cause` itself where a long tail of small chances carries the mean
            below that; equal to `cause` where the hazard is one number.
        high: 90 % point of the same, or `cause` itself where a long tail carries the mean above that.
        odds: odds of `cause` in words.
        book_cause: the same chance for an average car's parts, before any step; None if the book's hazard is
            not known for every suspect.
        car_ratio: weight of this car's part against an average car's, (e^L - 1) / (e^L_book - 1); None likewise.
        check_ratio: product of the likelihood ratios of the checks of the part in place.
        renewed: whether it was renewed without cure.
        reason: in one sentence.
    """

    part: str
    name: str
    cause: float
    faulty: float
    low: float
    high: float
    odds: str
    book_cause: float | None
    car_ratio: float | None
    check_ratio: float
    renewed: bool
    reason: str


@dataclass(frozen=True)
class Ranking:
    """All suspects, the likeliest cause first.

    Attributes:
        suspects: empty where nothing on record can cause the complaint.
        something_else: P(something that is not among the suspects shows the complaint, and none of them does).
        two_or_more: P(two or more of the parts in place are faulty).
    """

    suspects: tuple[Suspect, ...]
    something_else: float
    two_or_more: float

    def of(self, part: str) -> Suspect:
        """The suspect with this reference; KeyError if there is none."""
        for suspect in self.suspects:
            if suspect.part == part:
                return suspect
        raise KeyError(part)


def rank(finding: FaultFinding) -> Ranking:
    """Rank the suspects after the finding's steps, exactly under the joint model; time linear in their number.

    Draws are weighted by how well each explains the evidence.

    Raises:
        PartNotOnCar: a step names a part or a check that this finding does not hold.
        ContradictoryResults: the same check of the same part in place showed bad and good.
    """
    picture = picture_after(finding)
    now = joint(picture)
    book = _book_causes(finding)
    suspects = [
        _suspect(candidate, piece, now, position, None if book is None else book[position])
        for position, (candidate, piece) in enumerate(
            zip(finding.candidates, picture.simple.in_place, strict=True)
        )
    ]
    return Ranking(
        suspects=tuple(sorted(suspects, key=lambda suspect: -suspect.cause)),
        something_else=_mean(now.something_else_alone, now.evidence),
        two_or_more=_short_of_sure(1.0 - _mean(now.at_most_one, now.evidence)),
    )


def _suspect(candidate: Candidate, piece: Piece, now: Joint, position: int, book: float | None) -> Suspect:
    cause = _mean(now.cause[position], now.evidence)
    low, high = _limits(now.cause[position], now.evidence, cause)
    renewed = piece.first > 0
    car = None if candidate.book_hazard is None or renewed else _car_ratio(candidate, candidate.book_hazard)
    return Suspect(
        part=candidate.part,
        name=candidate.name,
        cause=cause,
        faulty=_mean(now.faulty[position], now.evidence),
        low=low,
        high=high,
        odds=odds_in_words(cause),
        book_cause=book,
        car_ratio=car,
        check_ratio=piece.check_ratio,
        renewed=renewed,
        reason=_reason(book, car, piece.check_ratio, renewed=renewed),
    )


def _reason(book: float | None, car: float | None, checks: float, *, renewed: bool) -> str:
    parts = [] if book is None else [f"book alone: {odds_in_words(book)}"]
    if renewed:
        parts.append("renewed without cure: only a bad new part is left")
    elif car is not None:
        parts.append(
            f"this car's own part had {times_in_words(car)} the chance of an average one to fail in this time"
        )
    if checks != 1.0:
        parts.append(f"its checks so far speak {'for' if checks > 1 else 'against'} it: odds × {checks:.2g}")
    text = "; ".join(parts)
    return text[:1].upper() + text[1:] if text else "No book figure and no check for it"


def _book_causes(finding: FaultFinding) -> list[float] | None:
    """P(cause) per candidate with an average car's hazards and no steps; None where a figure is missing."""
    average = tuple(
        replace(candidate, hazard=candidate.book_hazard, bad_from_new=0.0)
        for candidate in finding.candidates
        if candidate.book_hazard is not None
    )
    if len(average) < len(finding.candidates):
        return None
    now = joint(picture_after(replace(finding, candidates=average, steps=())))
    return [_mean(cause, now.evidence) for cause in now.cause]


def _car_ratio(candidate: Candidate, book_hazard: float) -> float:
    own = float(np.mean(candidate.faulty / (1.0 - candidate.faulty)))
    average = fault_chance(book_hazard)
    return own * float(1.0 - average) / float(average)


def _mean(numerator: Chance, evidence: Chance) -> float:
    return _short_of_sure(float(np.sum(_rows(numerator, evidence)) / np.sum(evidence)))


def _limits(numerator: Chance, evidence: Chance, mean: float) -> tuple[float, float]:
    """80 % interval over draws weighted by the evidence, widened to the mean where a long tail carries that out of it.

    The mean is the chance to act on, and what the suspects are ranked by; a range that leaves it out would contradict it.
    """
    if not isinstance(evidence, np.ndarray):
        return mean, mean
    chances = _rows(numerator, evidence) / evidence
    order = np.argsort(chances)
    cumulated = np.cumsum(evidence[order]) / np.sum(evidence)
    at = np.searchsorted(cumulated, (LOW, HIGH)).clip(0, len(order) - 1)
    low, high = chances[order][at]
    return min(float(low), mean), max(_short_of_sure(float(high)), mean)


def _rows(value: Chance, like: Chance) -> NDArray[np.float64]:
    return np.broadcast_to(value, np.shape(like))


def _short_of_sure(chance: float) -> float:
    return min(max(chance, 0.0), ALMOST_SURE)
