"""How often new parts are bad, grade by grade: grades of a kind pooled, with how much they differ estimated.

The odds of a bad part in a grade are the book's for that grade times a shift that all grades of the kind share; around that the grade's
own share has a Beta law worth so many parts. Shift and worth have priors and are averaged over, all on grids, so that the answer is the
joint posterior and no part counts twice: a grade with many parts goes its own way, one with few stays near the kind.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

import numpy as np

from planner.catalogue.modifiers import modifiers_of
from planner.errors import InputError, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.checks import labels, positive
from planner.life.checks import share as share_of
from planner.life.model import Life
from planner.life.new_parts.share import NewPartFault, chances_of, from_new, summed_up

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

    from planner.catalogue import PartKind
    from planner.history.spells import FloatArray

G = TypeVar("G", bound="Hashable")

SHIFT_SPREAD = 0.7
"""Standard deviation of the kind's shift in ln odds (judgement): the book may be wrong by a factor of two."""

USUAL_WORTH = 50.0
"""How many parts a grade's law is worth before any is seen (judgement), give or take a factor of e."""

_SHIFTS = SHIFT_SPREAD * np.linspace(-3.0, 3.0, 25)
_LOG_WORTHS = np.linspace(-2.5, 4.0, 27)
_LOG_ODDS = np.linspace(-24.0, 5.0, 1300)
_SHARES = 1 / (1 + np.exp(-_LOG_ODDS))


@dataclass(frozen=True, eq=False)
class FaultsByGrade(Generic[G]):
    """Shares of new parts that are bad.

    Attributes:
        grades: posterior of every grade.
        unseen: of a grade of which nothing is known, at the book's share given for the kind.
        shift: how many times the book's odds the kind's are: (10 %, 50 %, 90 %) points of the posterior.
        worth: how many parts the kind's law is worth for a grade, likewise: the fewer, the more the grades differ.
    """

    grades: Mapping[G, NewPartFault]
    unseen: NewPartFault
    shift: tuple[float, float, float]
    worth: tuple[float, float, float]

    @property
    def words(self) -> str:
        """What it rests on."""
        low, middle, high = self.shift
        said = f"bad new parts ×{middle:.1f} as frequent as the book says (×{low:.1f} to ×{high:.1f})"
        if len(self.grades) < 3:
            count = len(self.grades)
            grades = f"{count} grade" + ("" if count == 1 else "s")
            return f"{said}; how much grades differ is what is usual, as {grades} cannot tell"
        return f"{said}, judged from {len(self.grades)} grades"


@dataclass(frozen=True, eq=False)
class _Grade:
    """One grade's rows: likelihood if bad and if sound, (n,), and the log-likelihood of each share, (shares,)."""

    rows: Spells | None
    bad: FloatArray
    sound: FloatArray
    log_likelihood: FloatArray


def book_fault(kind: PartKind, *, pattern: bool = False) -> float:
    """The book's share of bad new parts of a kind: of decent quality, or of cheap pattern parts where the trade has a range for them."""
    ranges = [m.new_part_fault for m in modifiers_of(kind.id) if m.new_part_fault is not None]
    if pattern and ranges:
        low, high = ranges[0]
        return max(kind.new_part_fault, math.sqrt(low * high))
    return kind.new_part_fault


def faults_by_grade(
    spells: Spells,
    grades: Sequence[G],
    life: Life | Mapping[G, Life],
    *,
    span: float,
    expected: float | Mapping[G, float] = 0.02,
    unseen: float | None = None,
    worth: float = USUAL_WORTH,
) -> FaultsByGrade[G]:
    """Estimate the share of new parts that are bad in every grade of a kind.

    Only parts watched from new count; a grade without any has the kind's.

    Args:
        spells: of one kind.
        grades: of each row, (n,).
        life: of sound parts, one for all or one for each grade (:func:`planner.life.pooling.fit_pooled`); see
            :func:`planner.life.new_parts.share.new_part_fault`.
        span: km (years where age is the only clock) within which a bad part shows itself.
        expected: the book's share, one for all or one for each grade (:func:`book_fault`).
        unseen: the book's share for a grade not seen; the least of the expected ones where left out.
        worth: how many parts a grade's law is worth before any is seen.

    Raises:
        SpellError: grades that do not match the rows, or no part watched from new in any.
        PriorError: an expected or unseen share not above 0 and below 1, or a worth not above 0.
        InputError: a span not above 0, or a life on other clocks or missing for a grade.
    """
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells of one kind", spells)
    grades = labels("grades", grades, len(spells), "grade")
    if unseen is not None:
        unseen = share_of("unseen", unseen, "a share above 0 and below 1, or None", PriorError)
    lives = dict.fromkeys(grades, life) if isinstance(life, Life) else life
    names, books = _checked(spells, grades, lives, span, expected, worth)
    number = np.array([names.index(g) for g in grades])
    found = [_grade(spells.take(number == i), lives[g], span) for i, g in enumerate(names)]
    if all(grade.rows is None for grade in found):
        raise SpellError("spells", "at least one part watched from new", spells)
    log_worths = math.log(worth) + _LOG_WORTHS
    laws = [_laws(book, log_worths) for book in books]
    logs = -0.5 * (_SHIFTS[:, None] / SHIFT_SPREAD) ** 2 - 0.5 * _LOG_WORTHS**2
    marginals = [_log_marginal(law, grade) for law, grade in zip(laws, found, strict=True)]
    mass = _normal(logs + sum(marginals))
    posteriors = {
        name: _posterior(law, grade, mass, marginal, span)
        for name, law, grade, marginal in zip(names, laws, found, marginals, strict=True)
    }
    blank = _Grade(None, np.zeros(0), np.zeros(0), np.zeros(len(_SHARES)))
    new_law = _laws(min(books) if unseen is None else unseen, log_worths)
    new = _posterior(new_law, blank, mass, _log_marginal(new_law, blank), span)
    return FaultsByGrade(
        posteriors,
        new,
        _points(np.exp(_SHIFTS), mass.sum(axis=1)),
        _points(np.exp(log_worths), mass.sum(axis=0)),
    )


def _grade(spells: Spells, life: Life, span: float) -> _Grade:
    try:
        rows = from_new(spells)
    except SpellError:
        return _Grade(None, np.zeros(0), np.zeros(0), np.zeros(len(_SHARES)))
    bad, sound = chances_of(rows, life, span)
    with np.errstate(divide="ignore"):
        each = np.log(_SHARES[:, None] * bad + (1 - _SHARES[:, None]) * sound)
    return _Grade(rows, bad, sound, each @ rows.weight)


def _laws(book: float, log_worths: FloatArray) -> FloatArray:
    """Log mass of every share under every shift and worth: (shifts, worths, shares)."""
    from scipy.special import gammaln  # noqa: PLC0415 - loaded only when needed

    middle = 1 / (1 + np.exp(-(math.log(book / (1 - book)) + _SHIFTS)))[:, None, None]
    worth = np.exp(log_worths)[:, None]
    a, b = middle * worth, (1 - middle) * worth
    logs = a * np.log(_SHARES) + b * np.log1p(-_SHARES)  # per step of ln odds
    step = _LOG_ODDS[1] - _LOG_ODDS[0]
    logs[:, :, :1] += np.log(0.5 + 1 / (a * step))  # all that is nearer to 0, where a below 1 puts much
    found: FloatArray = logs + gammaln(worth) - gammaln(a) - gammaln(b)
    found -= _log_sum(found)[:, :, None]
    return found


def _log_marginal(law: FloatArray, grade: _Grade) -> FloatArray:
    return _log_sum(law + grade.log_likelihood)


def _log_sum(logs: FloatArray) -> FloatArray:
    top = logs.max(axis=2)
    found: FloatArray = top + np.log(np.exp(logs - top[:, :, None]).sum(axis=2))
    return found


def _posterior(
    law: FloatArray, grade: _Grade, mass: FloatArray, marginal: FloatArray, span: float
) -> NewPartFault:
    own = np.exp(law + grade.log_likelihood - marginal[:, :, None])
    share = np.einsum("ij,ijk->k", mass, own)
    share /= share.sum()
    if grade.rows is not None:
        return summed_up(grade.rows, grade.bad, grade.sound, _SHARES, share, span)
    low, _, high = _points(_SHARES, share)
    return NewPartFault(float(share @ _SHARES), low, high, 0.0, 0.0, 0.0)


def _points(values: FloatArray, mass: FloatArray) -> tuple[float, float, float]:
    below = np.cumsum(mass) - 0.5 * mass
    low, middle, high = np.interp([0.1, 0.5, 0.9], below, values)
    return float(low), float(middle), float(high)


def _normal(logs: FloatArray) -> FloatArray:
    mass: FloatArray = np.exp(logs - logs.max())
    mass /= mass.sum()
    return mass


def _checked(
    spells: Spells,
    grades: Sequence[G],
    lives: Mapping[G, Life],
    span: float,
    expected: float | Mapping[G, float],
    worth: float,
) -> tuple[list[G], list[float]]:
    """The grades in the order in which they come, and the book's share of each."""
    positive("span", span)
    positive("worth", worth, "a finite number of parts above 0", PriorError)
    names = list(dict.fromkeys(grades))
    books = [
        share_of(
            "expected",
            expected.get(g) if isinstance(expected, Mapping) else expected,
            f"a share above 0 and below 1 for grade {g!r}",
            PriorError,
        )
        for g in names
    ]
    for grade in names:
        if grade not in lives or lives[grade].clocks != spells.clocks:
            raise InputError("life", f"a life on {' and '.join(spells.clocks)} for grade {grade!r}", lives)
    return names, books
