"""Answers for the life in force of a part kind: its clocks, its evidence, what was left out, what differs."""

from datetime import datetime
from typing import Any, Literal

from api.part_kinds.schemas import ClockName
from api.schemas import Answer, DistanceOut
from planner.history.records import RepairAction


class DistanceLifeOut(Answer):
    """Weibull law of the distance clock; the scale is where 63 % have failed."""

    shape: float
    scale: DistanceOut


class AgeLifeOut(Answer):
    """Weibull law of the age clock; the scale is where 63 % have failed."""

    shape: float
    scale_years: float


class EvidenceOut(Answer):
    """What an answer rests on: 1 means all book, 0 none of it.

    Attributes:
        histories: stretches of parts' lives; a part that was cleaned or mended gives one up to each repair and one after.
        integrated_over: how many of the parts have a day that nobody knows: averaged over the days that it may have been, never
            dated to the purchase.
        shared_events: complaints that several parts answered for, the guilty one weighed by how likely each was to fail.
    """

    histories: float
    failures: float
    prior_share: float
    integrated_over: int
    shared_events: int
    words: str


class LifePointOut(Answer):
    """Where a tenth of new parts has failed.

    Attributes:
        assumed_per_year: the yearly distance that ties both clocks; null with one clock.
        low, high: 80 % limits of the same point, in the same form without limits of their own.
    """

    distance: DistanceOut | None
    years: float | None
    assumed_per_year: DistanceOut | None
    low: dict[str, Any]
    high: dict[str, Any]


class DiagnosticsOut(Answer):
    """How the draws behind the answer were made."""

    effective_sample_size: float | None
    pareto_k: float | None
    sampler: str


class LeftOutOne(Answer):
    """A history that gave no row, and why."""

    fitment_id: str
    reason: str


class LeftOutAll(Answer):
    """Histories left out of the fit; all are counted, the first two hundred named."""

    count: int
    named: list[LeftOutOne]


class NewPartsOut(Answer):
    """How many new parts are bad from the shelf or badly fitted, as this fleet's records say; costs are reckoned with the mean.

    Attributes:
        mean: posterior mean of the share.
        low, high: its 80 % limits.
        parts: how many parts were watched from new.
        early: how many of them failed in their first 2,000 km, and where age wears them too within a year (three months where only age does).
        by_fault: how many of those by a fault of the new part rather than by wear.
    """

    mean: float
    low: float
    high: float
    parts: float
    early: float
    by_fault: float
    words: str


class CarDiffers(Answer):
    """A car that eats parts of a kind, or spares them: how many times as fast as the common car, with 80 % limits."""

    vehicle_id: str
    mean: float
    low: float
    high: float
    failures: float
    expected: float
    words: str


class CarsDifferOut(Answer):
    """How much the fleet's cars differ in what they do to parts of a kind, learnt from parts watched since they were new.

    Attributes:
        spread: standard deviation of the cars' multipliers.
        notable: cars that go by a life of their own, those that differ most first.
    """

    spread: float
    parts: int
    failures: float
    cars: int
    notable: list[CarDiffers]


class ShareLeftOut(Answer):
    """Share of its clock that a part keeps after a repair: 0 is as good as new, 1 as old as before; with its 80 % limits.

    Attributes:
        prior_share: how much is book, from 0 to 1.
        repairs: how many such repairs it was learnt from.
    """

    mean: float
    low: float
    high: float
    prior_share: float
    repairs: int


class LearntRepairOut(ShareLeftOut):
    """The same for one kind of repair that is on record."""

    action: RepairAction


class RepairsLeaveOut(Answer):
    """What repairs leave of a part's wear; dates of repaired parts go by the means, limits never move.

    Attributes:
        clock: that cleaning, dressing and mending set back; re-gapping and adjusting set nothing back.
        learnt: by repair, from this fleet's records; the others go by what is expected.
        expected: by the trade notes, where no such repair is on record.
    """

    clock: ClockName
    words: str
    learnt: list[LearntRepairOut]
    expected: ShareLeftOut


class AgainstBookOut(Answer):
    """Whether the records and the book say the same of a kind.

    Attributes:
        p: chance that records would be as far off if the book were right; below 0.005 the words say that they disagree.
        telling: whether they do.
    """

    p: float
    telling: bool
    words: str


class CircumstanceOut(Answer):
    """What one setting does to parts of a kind: the multiplier on their life, of which the kind's life itself is free.

    Attributes:
        id: as a car names it among its circumstances; where `grade` is given, a part names it by that grade instead.
        clocks: that it stretches or shortens, as far as this life has them.
        factor: on the scale of those clocks: 0.5 is half the usual life.
        low, high: between these in four cases of five.
        source: "book": the catalogue's range; "learnt": from this fleet's records, in the fit of the kind's life.
        histories, failures: of parts in such circumstances that it was learnt from; 0 by the book.
        new_part_fault: chance that a new part of such a grade is bad, where that is more than the kind's; null: no word on it.
        provenance: of the book's range.
    """

    id: str
    name: str
    grade: str | None
    clocks: list[ClockName]
    factor: float
    low: float
    high: float
    source: Literal["book", "learnt"]
    histories: float
    failures: float
    new_part_fault: float | None
    provenance: str
    words: str


class LifeOut(Answer):
    """The life of one kind that this fleet's answers rest on.

    Attributes:
        against_book: whether records and book agree; null where only one of them speaks.
        circumstances: what the catalogue knows to stretch or shorten the life of such parts, told of a car or of a part's grade;
            empty where it knows of nothing, and where the life was fitted without the book.
        cars_differ: how much cars differ, fitted together with a life of its own; null where the records are too few to tell, or
            too many to go row by row.
        new_parts: how many new parts are bad; null where the records say nothing of it and the book's figure stands.
        repairs: what repairs leave of the wear; null where the life was fitted without the book, and repairs set nothing back.
        id: of the stored life; null while the fleet has no part of this kind and the book speaks.
        source: "book": the catalogue's prior alone; "fitted": from the fleet's records.
        log_likelihood: natural log at the estimate, prior left out; per km where distance is the only clock, else per
            year; null for the book.
    """

    kind: str
    id: str | None
    source: Literal["book", "fitted"]
    prior: Literal["book", "none"]
    clocks: list[ClockName]
    distance: DistanceLifeOut | None
    age: AgeLifeOut | None
    log_likelihood: float | None
    evidence: EvidenceOut
    against_book: AgainstBookOut | None
    life_at_10_percent: LifePointOut
    diagnostics: DiagnosticsOut
    new_parts: NewPartsOut | None
    cars_differ: CarsDifferOut | None
    repairs: RepairsLeaveOut | None
    circumstances: list[CircumstanceOut]
    left_out: LeftOutAll
    fitted_at: datetime | None
