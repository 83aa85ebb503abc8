"""Bodies and answers for part kinds: the catalogue's entry, settings, the life in force."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationInfo, field_validator

from api.history.schemas import Limit
from api.schemas import Answer, Body, DistanceOut

ClockName = Literal["distance", "age"]
Money = Annotated[float, Field(ge=0.01, le=1e9)]


class ClockOut(Answer):
    """One clock of the book: by when a tenth and half of the parts, left alone, have failed (km or years)."""

    p10: float
    p50: float
    provenance: str
    source: str


class CapOut(Answer):
    """A limit that statistics may tighten and never loosen; "unknown" means: look it up."""

    km: float | None
    years: float | None
    basis: str
    note: str
    source: str


class PartKindOut(Answer):
    """One part kind of the catalogue."""

    id: str
    name_gb: str
    name_us: str
    family: str
    systems: list[str] = Field(description="cars that have it; empty: any")
    clocks: list[str]
    distance: ClockOut | None = Field(description="km")
    age: ClockOut | None = Field(description="years")
    new_part_fault: float
    failure_effect: str
    stops_car: float = Field(description="chance that its failure stops the car")
    safety: bool
    cap: CapOut
    max_risk: float | None
    labour_hours: list[float]
    cost_class: str
    access_group: str
    together_with: list[str]
    cautions: list[str]
    symptoms: str
    cheap_check: str
    shortened_by: str


class CostsIn(Body):
    """What a planned renewal and a failure cost, in the fleet's currency; only their ratio decides the interval."""

    planned: Money
    failure: Money

    @field_validator("failure")
    @classmethod
    def _not_below_planned(cls, failure: float, info: ValidationInfo) -> float:
        planned = info.data.get("planned")
        if planned is not None and failure < planned:
            raise ValueError(f"at least the planned cost ({planned:g})")
        return failure


class CheckingIn(Body):
    """What a look at the part costs and finds; what is left out is the catalogue's."""

    cost: Annotated[float, Field(ge=0.01, le=100_000)] | None = None
    delay_share: Annotated[float, Field(ge=0.01, le=0.9)] | None = Field(
        default=None, description="share of its life for which wear shows before it fails"
    )
    sensitivity: Annotated[float, Field(ge=0.05, le=1)] | None = Field(
        default=None, description="chance that a look finds wear that is there"
    )


class KindSettingsPut(Body):
    """All of a fleet's settings for one kind; what is left out or null is the catalogue's.

    Costs, cap, risk limit and new-part fault take effect by the job that the answer names, within seconds. Prior and
    clocks take effect at the next refit.
    """

    prior: Literal["book", "none"] = Field(
        default="book", description="none: maximum likelihood from this fleet's records alone"
    )
    clocks: (
        Annotated[list[ClockName], Field(min_length=1, max_length=2, json_schema_extra={"uniqueItems": True})]
        | None
    ) = None
    costs: CostsIn | None = None
    new_part_fault: Annotated[float, Field(ge=0, lt=1)] | None = None
    cap: Limit | None = Field(default=None, description="the stricter of it and the catalogue's wins")
    max_risk: Annotated[float, Field(ge=1e-6, lt=1)] | None = Field(
        default=None, description="largest accepted chance of failure from fitting to renewal"
    )

    checking: CheckingIn | None = None

    @field_validator("clocks")
    @classmethod
    def _each_once(cls, clocks: list[ClockName] | None) -> list[ClockName] | None:
        if clocks is not None and len(set(clocks)) < len(clocks):
            raise ValueError("each clock once")
        return clocks


class CostsOut(Answer):
    """Costs in the fleet's currency.

    Attributes:
        basis: "own": the fleet gave them; "book": the catalogue's estimate, of the order of a euro, and only their
            ratio matters.
    """

    planned: float
    failure: float
    currency: str
    basis: Literal["own", "book"]


class KindCapOut(Answer):
    """A limit."""

    distance: DistanceOut | None
    years: float | None


class CheckingOut(Answer):
    """What a look at the part costs and finds; null: the catalogue's, or that nobody knows how its wear shows."""

    cost: float | None
    delay_share: float | None
    sensitivity: float | None


class TermsOut(Answer):
    """What is in force once the catalogue's figures fill what the fleet left open."""

    clocks: list[ClockName]
    costs: CostsOut
    new_part_fault: float
    cap: KindCapOut
    max_risk: float | None
    checking: CheckingOut | None


class KindSettingsOut(Answer):
    """A fleet's settings for one kind.

    Attributes:
        in_force: with the catalogue's figures filled in.
        job: address of the job that applies changed terms; null when nothing has to be done.
    """

    kind: str
    prior: Literal["book", "none"]
    clocks: list[ClockName] | None
    costs: CostsOut | None
    new_part_fault: float | None
    cap: KindCapOut | None
    max_risk: float | None
    checking: CheckingOut | None
    in_force: TermsOut
    job: str | None = None


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
        early: how many of them failed in their first 2,000 km (three months where only age wears them).
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


class LifeOut(Answer):
    """The life of one kind that this fleet's answers rest on.

    Attributes:
        cars_differ: how much cars differ, fitted together with a life of its own; null where the records are too few to tell, or
            too many to go row by row.
        new_parts: how many new parts are bad; null where the records say nothing of it and the book's figure stands.
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
    life_at_10_percent: LifePointOut
    diagnostics: DiagnosticsOut
    new_parts: NewPartsOut | None
    cars_differ: CarsDifferOut | None
    left_out: LeftOutAll
    fitted_at: datetime | None
