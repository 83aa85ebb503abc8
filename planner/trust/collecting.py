"""Gathers the statements of one past day after the other, as columns."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import RecordError
from planner.life.fit import book_life
from planner.trust.at_risk import InService, NoStatementError, Usages, in_service
from planner.trust.chances import LifeSays, rule_of_thumb
from planner.trust.known import known_on
from planner.trust.outcomes import Outcome, outcomes
from planner.trust.values import LeftOut, OriginLine

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from planner.history.conversion import SpellsResult
    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock
    from planner.life.model import Life
    from planner.life.prior import LifePrior


@dataclass(frozen=True)
class Origin:
    """A past day from which is predicted.

    Attributes:
        on, end: the day and the horizon's end.
        today: the day of the telling.
        clocks: that the life runs on.
        life: fitted to what was known on the day.
        prior: of the book, or None.
    """

    on: date
    end: date
    today: date
    clocks: tuple[Clock, ...]
    life: Life
    prior: LifePrior | None


@dataclass(frozen=True)
class Statement:
    """Chances stated of one part on one past day, and one outcome."""

    on: date
    car: str
    part: str
    chance: float
    rule: float
    book: float
    expected: float
    years: float
    outcome: Outcome


@dataclass
class Collected:
    """What the past days have given so far."""

    statements: list[Statement] = field(default_factory=list)
    lines: list[OriginLine] = field(default_factory=list)
    rule_words: str = ""
    reasons: Counter[str] = field(default_factory=Counter)

    def leave_out(self, reason: str) -> None:
        """Count one more of a reason."""
        self.reasons[reason] += 1

    def left_out(self) -> tuple[LeftOut, ...]:
        """The reasons, most frequent first."""
        return tuple(LeftOut(reason, count) for reason, count in self.reasons.most_common())


def collect(
    collected: Collected, origin: Origin, histories: Sequence[PartHistory], known: SpellsResult
) -> None:
    """Add the statements of one past day.

    Args:
        collected: what there is so far; added to.
        origin: the day.
        histories: everything known today.
        known: spells as known on the day.
    """
    rule = rule_of_thumb(known.spells, origin.prior)
    found = _found(collected, origin, histories)
    if rule is None or not found:
        return
    parts = [part for part, _ in found]
    ends = [origin.end] * len(parts)
    model = LifeSays(origin.life)
    chance, thumb = model(parts, origin.on, ends), rule(parts, origin.on, ends)
    book = np.full(len(parts), np.nan)
    if origin.prior is not None:
        book = LifeSays(book_life(origin.prior))(parts, origin.on, ends)
    stated = list(zip(chance, thumb, book, strict=True))
    rows = [(place, outcome) for place, (_, came) in enumerate(found) for outcome in came]
    accrued = _accrued(model, [parts[place] for place, _ in rows], origin.on, [o.day for _, o in rows])
    new = [
        _statement(origin.on, parts[place].history, stated[place], float(more), outcome)
        for (place, outcome), more in zip(rows, accrued, strict=True)
    ]
    collected.statements += new
    collected.rule_words = rule.words
    collected.lines.append(_line(origin, len(parts), float(chance.sum()), new))


def _statement(
    on: date, history: PartHistory, stated: tuple[float, float, float], accrued: float, outcome: Outcome
) -> Statement:
    chance, rule, book = (float(one) for one in stated)
    return Statement(
        on,
        history.vehicle.ref,
        history.fitment.ref,
        chance,
        rule,
        book,
        expected=accrued * outcome.weight,
        years=(outcome.day - on).days / 365.25,
        outcome=outcome,
    )


def _line(origin: Origin, parts: int, within_horizon: float, new: Sequence[Statement]) -> OriginLine:
    evidence = origin.life.evidence
    return OriginLine(
        on=origin.on,
        histories=evidence.histories,
        failures=evidence.failures,
        parts=parts,
        within_horizon=within_horizon,
        expected=sum(one.expected for one in new),
        observed=sum(one.outcome.weight for one in new if one.outcome.ending == "failed"),
    )


def _found(
    collected: Collected, origin: Origin, histories: Sequence[PartHistory]
) -> list[tuple[InService, list[Outcome]]]:
    """Each part in service on the day whose chance can be stated and that was seen again, with what came of it."""
    usages = Usages(origin.on)
    found = []
    for history in histories:
        known = known_on(history, origin.on)
        if known is None:
            continue
        try:
            part = in_service(known, origin.on, origin.clocks, usages)
            if part is None:
                continue
            came = outcomes(history, origin.on, origin.end, origin.today, origin.life)
        except NoStatementError as error:
            collected.leave_out(str(error))
        except RecordError:
            collected.leave_out("its records contradicted each other as they then stood")
        else:
            if came:
                found.append((part, came))
    return found


def _accrued(
    model: LifeSays, parts: Sequence[InService], on: date, days: Sequence[date]
) -> NDArray[np.float64]:
    """Failures to be expected of each part while it was followed: its hazard from the day to the end of the following."""
    return -np.log1p(-np.minimum(model(parts, on, days), 1.0 - 1e-12))
