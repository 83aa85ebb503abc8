"""Opening a fault-finding: the book's complaint and checks, laid over the parts that are on this car."""

from __future__ import annotations

import zlib
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.catalogue import load_catalogue
from planner.faults.book import LEAST_HAZARD, BookRates, book_hazard, book_rates
from planner.faults.errors import FaultError, PartNotOnCar
from planner.faults.guards import finite, words
from planner.faults.values import (
    Candidate,
    Check,
    Checked,
    FaultFinding,
    HandOver,
    NotOnRecord,
    Reading,
    Renewed,
)
from planner.interval.costs import HOURLY_RATE, PART_PRICE

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from planner.catalogue import Check as BookCheck
    from planner.catalogue import Complaint, Condition, PartKind
    from planner.catalogue.values import System
    from planner.faults.values import Chance, Step
    from planner.life.model import Life

SEARCH_HOURS = 3.0
"""A specialist's time to find what the keeper did not (judgement)."""

CURE_ELSEWHERE = 150.0
"""Parts for curing something that is not among the suspects (judgement)."""

CURE_ELSEWHERE_HOURS = 2.0
"""Labour for the same (judgement)."""

NOTHING_ELSE_WEIGHED = 0.5
"""Leak of a finding without a suspect: it stands alone, so that it cancels out and all odds go to something else."""

MOST_SHOWN_APART = 3
"""Parts of which a check can sensibly tell apart which one shows bad; beyond that it gives one result."""


@dataclass(frozen=True, eq=False)
class PartOnCar:
    """One part in place on this car.

    Attributes:
        part: its reference.
        kind: the catalogue's entry.
        hazard: hazard it accrued since the car last ran well (`accrued_hazard`), 0 or more; one per draw or one.
        name: what the keeper calls it; empty: the kind's British name.
        fitted_since_well: whether it was fitted after the car last ran well.
        money: price of a renewal; None: from the kind's cost class.
        minutes: labour of a renewal; None: from the kind's labour hours.
    """

    part: str
    kind: PartKind
    hazard: Chance
    name: str = ""
    fitted_since_well: bool = False
    money: float | None = None
    minutes: float | None = None


@dataclass(frozen=True)
class Book:
    """What of the book a fault-finding needs, shipped or the keeper's own.

    Attributes:
        checks: checks by id.
        conditions: conditions by id.
    """

    checks: Mapping[str, BookCheck]
    conditions: Mapping[str, Condition]


def accrued_hazard(
    life: Life,
    *,
    km: tuple[float, float] | None = None,
    years: tuple[float, float] | None = None,
    in_fit: bool = False,
) -> NDArray[np.float64]:
    """Hazard that a part accrued between "last ran well" and now, one value per draw of its life.

    A part that was good when the car last ran well has shown that its life is none of the shortest: unless its
    own history is in the fit already, the draws are weighted by its survival to then (systematic resampling).

    Args:
        life: of the part's kind, fitted or from the book.
        km: distance since fitting (then, now), where the life runs on distance; then = 0 if fitted since.
        years: age (then, now), likewise.
        in_fit: whether this part's history is among those the life was fitted to.

    Raises:
        InputError: clocks that are not the life's, or below 0.
        FaultError: now is before then.
    """
    for field, clock in (("km", km), ("years", years)):
        if clock is not None and clock[1] < clock[0]:
            raise FaultError(field, "a clock now that is not below the clock then", clock)
    then = life.cumulative_hazard_draws(km and km[0], years and years[0])
    now = life.cumulative_hazard_draws(km and km[1], years and years[1])
    accrued: NDArray[np.float64] = np.maximum(now - then, LEAST_HAZARD)
    if in_fit:
        return accrued
    weights = np.exp(-(then - then.min()))
    places = (np.arange(len(then)) + 0.5) / len(then)
    chosen = np.searchsorted(np.cumsum(weights) / weights.sum(), places).clip(0, len(then) - 1)
    survivors: NDArray[np.float64] = accrued[chosen]
    return survivors


def open_finding(
    complaint: Complaint,
    parts: Sequence[PartOnCar],
    book: Book,
    *,
    system: System | None,
    years_since_well: float,
    noticed: Collection[str] = (),
    steps: Sequence[Step] = (),
    shares: Mapping[str, float] | None = None,
    hourly_rate: float = HOURLY_RATE,
    fault_present: float = 1.0,
    hand_over: HandOver | None = None,
) -> FaultFinding:
    """Lay a complaint over a car; where nothing on record can cause it, all odds are something else's.

    Args:
        complaint: from the catalogue or the keeper's own.
        parts: every part on record in place; those the complaint can come from become suspects.
        book: checks and conditions.
        system: the car's system; None if unknown.
        years_since_well: time since the car last ran well, above 0.
        noticed: ids of conditions under which the fault shows; those the complaint itself holds add nothing.
        steps: what was done so far; renewals of parts that cannot cause this complaint are left out.
        shares: learnt shares per kind, instead of the complaint's own for this car.
        hourly_rate: what an hour counts.
        fault_present: chance that an intermittent fault is there while a check is made.
        hand_over: last resort; None: the default figures at this hourly rate.

    Raises:
        FaultError: an unknown condition, or a figure out of its range.
        PartNotOnCar: a step names a part that is not on the car.
    """
    words("parts", tuple(part.part for part in parts), unique=True, empty=True)
    finite("years_since_well", years_since_well, at_least=1.0 / 366.0)
    on_car = {part.kind.id: part.kind for part in parts}
    share = dict(complaint.shares(system, on_car) if shares is None else shares)
    share = {kind: value for kind, value in share.items() if kind in on_car}
    suspects = [part for part in parts if share.get(part.kind.id, 0.0) > 0.0]
    elsewhere = complaint.something_else(system, on_car) if shares is None else 1.0 - sum(share.values())
    ratios = _ratios(complaint, book, noticed)
    rates = book_rates(share, elsewhere, on_car, ratios) if suspects else None
    return FaultFinding(
        complaint=complaint.title,
        candidates=_candidates(suspects, rates, years_since_well, hourly_rate) if rates else (),
        something_else=rates.something_else(years_since_well) if rates else NOTHING_ELSE_WEIGHED,
        checks=_checks(complaint, book, suspects, system, {*complaint.conditions, *noticed}),
        steps=_relevant(steps, parts, suspects),
        hand_over=hand_over or _default_hand_over(hourly_rate),
        hourly_rate=hourly_rate,
        fault_present=fault_present,
        stop_driving=complaint.warning if complaint.stop_driving else "",
        warning=complaint.warning,
        not_on_record=_not_on_record(complaint, system, on_car),
    )


def _not_on_record(
    complaint: Complaint, system: System | None, on_car: Collection[str]
) -> tuple[NotOnRecord, ...]:
    shares = complaint.not_on(system, on_car)
    return tuple(NotOnRecord(kind, load_catalogue()[kind].name_gb, share) for kind, share in shares.items())


def _candidates(
    suspects: Sequence[PartOnCar], rates: BookRates, years: float, hourly_rate: float
) -> tuple[Candidate, ...]:
    finite("hourly_rate", hourly_rate)
    of_a_kind = Counter(part.kind.id for part in suspects)
    return tuple(_candidate(part, rates, years, of_a_kind[part.kind.id]) for part in suspects)


def _candidate(part: PartOnCar, rates: BookRates, years: float, of_a_kind: int) -> Candidate:
    """A suspect; the book's share of a kind is shared among the parts of that kind."""
    kind = part.kind
    return Candidate(
        part=part.part,
        name=part.name or kind.name_gb,
        hazard=_shuffled(np.maximum(part.hazard, LEAST_HAZARD), kind.id),
        share=rates.shows[kind.id] / of_a_kind,
        money=PART_PRICE[kind.cost_class] if part.money is None else part.money,
        minutes=30.0 * sum(kind.labour_hours) if part.minutes is None else part.minutes,
        new_part_fault=kind.new_part_fault,
        bad_from_new=kind.new_part_fault if part.fitted_since_well else 0.0,
        book_hazard=book_hazard(kind, years),
        caution=" ".join(kind.cautions),
    )


def _shuffled(hazard: Chance, kind: str) -> Chance:
    """Draws in an order of their kind's own: lives of different kinds may be drawn from the same random numbers.

    Parts of one kind keep sharing theirs.
    """
    if not isinstance(hazard, np.ndarray) or hazard.ndim == 0:
        return hazard
    order = np.random.default_rng(zlib.crc32(kind.encode())).permutation(len(hazard))
    shuffled: NDArray[np.float64] = hazard[order]
    return shuffled


def _checks(
    complaint: Complaint,
    book: Book,
    suspects: Sequence[PartOnCar],
    system: System | None,
    conditions: Collection[str],
) -> tuple[Check, ...]:
    """The checks that can be made on this car, with this complaint, and look at a suspect."""
    found = []
    for check in book.checks.values():
        if not check.can_be_made(complaint.id, conditions, engine_dead=complaint.engine_dead):
            continue
        looks_at = [part for part in suspects if part.kind.id in check.targets]
        if looks_at and check.applies_to(system):
            kinds = {part.kind.id for part in looks_at}
            readings = tuple(Reading(p.part, check.sensitivity, check.specificity) for p in looks_at)
            found.append(
                Check(
                    id=check.id,
                    name=check.name,
                    readings=readings,
                    money=check.money,
                    minutes=check.minutes,
                    needs_fault_present=check.needs_fault_present,
                    one_result=(len(kinds) > 1 and not check.shows_where) or len(readings) > MOST_SHOWN_APART,
                    caution=check.caution,
                )
            )
    return tuple(found)


def _ratios(complaint: Complaint, book: Book, noticed: Collection[str]) -> dict[str, float]:
    """Likelihood ratio per kind of the conditions noticed beyond those the complaint holds itself."""
    ratios: dict[str, float] = {}
    for name in noticed:
        if name not in book.conditions:
            raise FaultError("noticed", f"conditions out of {sorted(book.conditions)}", name)
        if name not in complaint.conditions:
            for kind, ratio in book.conditions[name].ratios.items():
                ratios[kind] = ratios.get(kind, 1.0) * ratio
    return ratios


def _relevant(
    steps: Sequence[Step], parts: Sequence[PartOnCar], suspects: Sequence[PartOnCar]
) -> tuple[Step, ...]:
    """Steps without the renewals that say nothing: parts on the car that cannot cause the complaint."""
    on_car, suspected = {part.part for part in parts}, {part.part for part in suspects}
    kept: list[Step] = []
    for number, step in enumerate(steps):
        if isinstance(step, Checked):
            kept.append(step)
            continue
        for part in step.parts:
            if part not in on_car:
                raise PartNotOnCar(f"steps[{number}]", "a part on this car", part)
        if told := tuple(part for part in step.parts if part in suspected):
            kept.append(Renewed(told))
    return tuple(kept)


def _default_hand_over(hourly_rate: float) -> HandOver:
    cure = CURE_ELSEWHERE + CURE_ELSEWHERE_HOURS * hourly_rate
    return HandOver(money=SEARCH_HOURS * hourly_rate, cure_elsewhere=cure)
