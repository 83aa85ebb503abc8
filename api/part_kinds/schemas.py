"""Bodies and answers for part kinds: the catalogue's entry and the settings."""

from typing import Annotated, Literal

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
    """What is in force once the catalogue's figures fill what the fleet left open, and what its records teach.

    Attributes:
        new_part_fault: the chance of a bad new part that answers reckon with.
        new_part_fault_from: "own" of the fleet's settings, "records" as the last refit learnt it, or "book"; what the
            records teach stays below half of the risk limit.
        new_part_fault_by_book: the catalogue's.
    """

    clocks: list[ClockName]
    costs: CostsOut
    new_part_fault: float
    new_part_fault_from: Literal["own", "records", "book"]
    new_part_fault_by_book: float
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
