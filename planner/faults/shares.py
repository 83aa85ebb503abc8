"""What closed cases teach about a complaint: Dirichlet over the book's shares, corrected for the cars' parts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from planner.faults.cases import SOMETHING_ELSE
from planner.faults.errors import FaultError
from planner.faults.guards import finite, words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.faults.cases import FaultCase

BOOK_CASES = 15.0
"""How many cases the book's shares count as. The trade notes give half of its value as a fair uncertainty of a
share; for a share of 0.2 a Dirichlet of 15 cases has that spread: 0.2 * 0.8 / 16 = 0.1 squared."""

_ROUNDS = 500
_SETTLED = 1e-13


@dataclass(frozen=True)
class KnownCause:
    """The cause of one closed case.

    Attributes:
        causes: chance per part kind, and of `SOMETHING_ELSE`, to have been the cause; sums to 1.
        car_ratios: per kind, hazard that this car's part had accrued against an average car's; 1 where missing,
            0 for a kind that the car did not have. Without them a fleet full of old leads would teach that leads
            are always guilty.
    """

    causes: Mapping[str, float]
    car_ratios: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        words("causes", self.causes)
        for kind, chance in self.causes.items():
            finite(f"causes.{kind}", chance)
        for kind, ratio in self.car_ratios.items():
            finite(f"car_ratios.{kind}", ratio)
        if abs(sum(self.causes.values()) - 1.0) > 1e-6:
            raise FaultError("causes", "chances that sum to 1", dict(self.causes))


@dataclass(frozen=True)
class LearntShares:
    """Shares of causes on an average car, after the cases.

    Attributes:
        shares: per kind and for `SOMETHING_ELSE`; sums to 1.
        cases: how many cases taught.
        book_share: how much of this is book, from 0 to 1.
    """

    shares: Mapping[str, float]
    cases: int
    book_share: float


def known_cause(case: FaultCase, kind_of: Mapping[str, str]) -> KnownCause | None:
    """What a closed case teaches about its complaint; None if it was given up.

    Args:
        case: a closed case.
        kind_of: part kind of each suspect, by its reference.

    Raises:
        FaultError: the case is open, or a suspect's kind is missing.
    """
    causes = case.evidence().causes
    if not causes:
        return None
    hazards: dict[str, list[float]] = {}
    for candidate in case.finding.candidates:
        if candidate.part not in kind_of:
            raise FaultError("kind_of", "the part kind of every suspect", candidate.part)
        if candidate.book_hazard is not None:
            ratio = float(np.mean(candidate.hazard)) / candidate.book_hazard
            hazards.setdefault(kind_of[candidate.part], []).append(ratio)
    by_kind: dict[str, float] = {}
    for part, chance in causes.items():
        kind = part if part == SOMETHING_ELSE else kind_of[part]
        by_kind[kind] = by_kind.get(kind, 0.0) + chance
    return KnownCause(by_kind, {kind: sum(row) / len(row) for kind, row in hazards.items()})


def learn_shares(
    book: Mapping[str, float], cases: Sequence[KnownCause], *, book_cases: float = BOOK_CASES
) -> LearntShares:
    """Shares after the closed cases of one complaint.

    With all `car_ratios` 1 this is the Dirichlet mean, (book_cases * s_k + n_k) / (book_cases + n). With ratios
    r_k the chance that kind k caused a case is s_k r_k / sum_j s_j r_j; the shares are then the fixed point of
    s_k = (book_cases * s_k0 + n_k) / (book_cases + sum over cases of r_k / sum_j s_j r_j), the
    minorise-maximise step for this likelihood (Hunter 2004, Annals of Statistics 32:384-406).

    Args:
        book: the book's shares per kind, with `SOMETHING_ELSE`, any common scale, each above 0.
        cases: causes of the closed cases; a cause that the book does not list counts as something else.
        book_cases: how many cases the book counts as.

    Raises:
        FaultError: a share is not above 0, something else is missing, or `book_cases` is not above 0.
    """
    prior = _prior(book, book_cases)
    counts = dict.fromkeys(prior, 0.0)
    for case in cases:
        for kind, chance in case.causes.items():
            counts[kind if kind in counts else SOMETHING_ELSE] += chance
    shares = dict(prior)
    for _ in range(_ROUNDS):
        exposure = _exposures(shares, cases)
        new = {
            kind: (book_cases * prior[kind] + counts[kind]) / (book_cases + exposure[kind]) for kind in prior
        }
        total = sum(new.values())
        new = {kind: share / total for kind, share in new.items()}
        moved = max(abs(new[kind] - shares[kind]) for kind in prior)
        shares = new
        if moved < _SETTLED:
            break
    return LearntShares(shares, len(cases), book_cases / (book_cases + len(cases)))


def _exposures(shares: Mapping[str, float], cases: Sequence[KnownCause]) -> dict[str, float]:
    """Per kind, how many cases it would have caused per unit of share."""
    exposure = dict.fromkeys(shares, 0.0)
    for case in cases:
        ratio = {kind: float(case.car_ratios.get(kind, 1.0)) for kind in shares}
        ratio[SOMETHING_ELSE] = 1.0
        total = sum(share * ratio[kind] for kind, share in shares.items())
        for kind in exposure:
            exposure[kind] += ratio[kind] / total
    return exposure


def _prior(book: Mapping[str, float], book_cases: float) -> dict[str, float]:
    finite("book_cases", book_cases)
    if SOMETHING_ELSE not in book:
        raise FaultError("book", f"a share for {SOMETHING_ELSE!r}", sorted(book))
    for kind, share in book.items():
        finite(f"book.{kind}", share)
        if share <= 0.0:
            raise FaultError(f"book.{kind}", "a share above 0", share)
    if book_cases <= 0.0:
        raise FaultError("book_cases", "a number of cases above 0", book_cases)
    total = sum(book.values())
    return {kind: share / total for kind, share in book.items()}
