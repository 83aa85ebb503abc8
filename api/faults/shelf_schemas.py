"""Bodies of complaints and checks: a fleet's own, and its own figures for the book's."""

from typing import Annotated, Any

from pydantic import AfterValidator, Field

from api.faults.schemas import Conditions, each_once
from api.history.schemas import KindId
from api.schemas import NOT_BLANK, Body, ExternalRef
from planner.catalogue import load_complaints, load_conditions
from planner.catalogue.values import System

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[a-z0-9][a-z0-9_]*$")]
"""A short name in lower case, "misfire_when_warm"."""

Text = Annotated[str, Field(min_length=1, max_length=400, pattern=NOT_BLANK)]

Remark = Annotated[str, Field(max_length=1000)]

Kinds = Annotated[list[KindId], Field(min_length=1, max_length=20), AfterValidator(each_once)]
Weight = Annotated[float, Field(ge=0.1, le=100, description="per 100 such complaints")]
Systems = Annotated[
    list[System],
    Field(max_length=9, description="cars for which it holds; empty: any"),
    AfterValidator(each_once),
]
NotWith = Annotated[
    list[Annotated[str, Field(json_schema_extra={"enum": [*load_complaints(), *load_conditions()]})]],
    Field(
        max_length=50,
        description="complaints of the book, and conditions, with which it cannot be made or tells nothing new",
    ),
    AfterValidator(each_once),
]
Credence = Annotated[float, Field(ge=0.01, le=0.999)]
Minutes = Annotated[float, Field(ge=1, le=1000, description="time it takes; no check is free")]
Money = Annotated[float, Field(ge=0, le=10_000, description="what it uses up")]


class CauseIn(Body):
    """One line of causes; several kinds are alternatives of which a car mostly has one."""

    kinds: Kinds
    weight: Weight
    systems: Systems = Field(default=[])
    cohort: bool = Field(default=False, description="counts only on a car that is known to have the part")
    note: Remark = Field(default="", description="what about the part it is")


class OtherCauseIn(Body):
    """A cause that is no wear part of the catalogue."""

    what: Text
    weight: Weight
    systems: Systems = Field(default=[])


Causes = Annotated[list[CauseIn], Field(min_length=1, max_length=50)]
Others = Annotated[list[OtherCauseIn], Field(min_length=1, max_length=20)]


class ComplaintCreate(Body):
    """A complaint of the fleet's own."""

    id: Name
    title: Text
    conditions: Conditions = Field(default=[], description="what the complaint itself says of when it shows")
    stop_driving: bool = False
    warning: Remark = Field(
        default="", description="what to do or not to do at once; needed with stop_driving"
    )
    engine_dead: bool = Field(
        default=False, description="the engine does not run: no check that needs it running is offered"
    )
    causes: Causes
    others: Others = Field(default=[OtherCauseIn(what="anything that is not listed", weight=10.0)])
    note: Text | None = Field(default=None, description="where the weights come from")
    external_ref: ExternalRef | None = None


class CheckCreate(Body):
    """A check of the fleet's own."""

    id: Name
    name: Text
    targets: Kinds = Field(description="part kinds that it looks at")
    sensitivity: Credence = Field(description="P(shows bad | faulty)")
    specificity: Credence = Field(description="P(shows good | sound)")
    minutes: Minutes
    money: Money = 0.0
    systems: Systems = Field(default=[])
    needs_fault_present: bool = Field(
        default=False, description="it finds nothing while the fault stays away"
    )
    needs_running: bool = Field(default=False, description="the engine has to run for it")
    needs_dead: bool = Field(
        default=False, description="it tells something only of an engine that does not run"
    )
    shows_where: bool = Field(default=False, description="it shows which of several kinds is bad")
    not_with: NotWith = Field(default=[])
    caution: Remark = ""
    note: Text | None = Field(default=None, description="where the figures come from")
    external_ref: ExternalRef | None = None


class _Changes(Body):
    """A field left out stays; what takes no null has a stand-in for "left out" that is never used."""

    @property
    def changes(self) -> dict[str, Any]:
        """The fields that the caller named, with their new values."""
        return self.model_dump(include=self.model_fields_set)


class ComplaintUpdate(_Changes):
    """Changes to a complaint of the fleet's own; of a complaint of the book, its causes, others and note alone.

    A field left out stays; null empties a note or an external_ref.
    """

    title: Text = Field(default_factory=str)
    conditions: Conditions = Field(default_factory=list)
    stop_driving: bool = Field(default_factory=bool)
    warning: Remark = Field(default_factory=str)
    engine_dead: bool = Field(default_factory=bool)
    causes: Causes = Field(default_factory=list, description="all lines; they take the place of those before")
    others: Others = Field(default_factory=list, description="all lines; they take the place of those before")
    note: Text | None = Field(default=None, description="where the weights come from")
    external_ref: ExternalRef | None = None


class CheckUpdate(_Changes):
    """Changes to a check of the fleet's own; of a check of the book, what it is worth (its figures and a note) alone.

    A field left out stays; null empties a note or an external_ref.
    """

    name: Text = Field(default_factory=str)
    targets: Kinds = Field(default_factory=list)
    sensitivity: Credence = Field(default_factory=float, description="P(shows bad | faulty)")
    specificity: Credence = Field(default_factory=float, description="P(shows good | sound)")
    minutes: Minutes = Field(default_factory=float)
    money: Money = Field(default_factory=float)
    systems: Systems = Field(default_factory=list)
    needs_fault_present: bool = Field(default_factory=bool)
    needs_running: bool = Field(default_factory=bool)
    needs_dead: bool = Field(default_factory=bool)
    shows_where: bool = Field(default_factory=bool)
    not_with: NotWith = Field(default_factory=list)
    caution: Remark = Field(default_factory=str)
    note: Text | None = Field(default=None, description="where the figures come from")
    external_ref: ExternalRef | None = None
