"""Bodies of fault-findings, and of a fleet's own complaints and checks."""

from typing import Annotated, Any, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from api.history.schemas import KindId
from api.schemas import Body, DistanceIn, Note, PastDate
from planner.catalogue import load_conditions
from planner.catalogue.values import System

Name = Annotated[str, Field(min_length=1, max_length=60, pattern=r"^[a-z0-9][a-z0-9_]*$")]
"""A short name in lower case, "misfire_when_warm"."""

Ref = Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^\u0000]*\S[^\u0000]*$")]
"""A name that is stored here: of a complaint, a check, a condition or a fitment."""

Text = Annotated[str, Field(min_length=1, max_length=400, pattern=r"^[^\u0000]*\S[^\u0000]*$")]


def _each_once(values: list[Any]) -> list[Any]:
    """A list without what was said before."""
    return list(dict.fromkeys(values))


Parts = Annotated[list[Ref], Field(max_length=50), AfterValidator(_each_once)]
Kinds = Annotated[list[KindId], Field(min_length=1, max_length=20), AfterValidator(_each_once)]
ConditionId = Annotated[Ref, Field(json_schema_extra={"enum": list(load_conditions())})]
Conditions = Annotated[list[ConditionId], Field(max_length=20), AfterValidator(_each_once)]
Weight = Annotated[float, Field(ge=0.1, le=100, description="per 100 such complaints")]
Systems = Annotated[
    list[System],
    Field(max_length=9, description="cars for which it holds; empty: any"),
    AfterValidator(_each_once),
]


class FaultFindingCreate(Body):
    """A complaint about a car, as its keeper gives it."""

    complaint: Ref = Field(description="id out of GET /v1/complaints", examples=["misfire_in_damp"])
    conditions: Conditions = Field(default=[], description="when it shows")
    last_ran_well: PastDate = Field(description="the last day without the complaint")
    noted_on: PastDate | None = Field(default=None, description="the day it came up; null: today")
    fault_present: float = Field(
        default=1.0, gt=0, le=1, description="chance that the fault shows while a check is made; 1: always"
    )
    note: Note | None = None


_CHECK = {
    "required": ["check", "outcome"],
    "properties": {
        "check": {"type": "string"},
        "outcome": {"type": "string"},
        "renewed": {"type": "null"},
        "cured": {"type": "null"},
    },
}
_RENEWAL = {
    "required": ["renewed", "cured"],
    "properties": {
        "renewed": {"type": "array"},
        "cured": {"type": "boolean"},
        "check": {"type": "null"},
        "outcome": {"type": "null"},
        "parts": {"type": "null"},
        "fault_present": {"type": "null"},
    },
}


def _one_of_both(schema: dict[str, Any]) -> None:
    schema["oneOf"] = [_CHECK, _RENEWAL]


class StepCreate(Body):
    """A check that was made (check, outcome), or parts that were renewed together (renewed, cured)."""

    model_config = ConfigDict(json_schema_extra=_one_of_both)

    check: Ref | None = Field(default=None, description="id out of GET /v1/checks", examples=["dwell"])
    outcome: Annotated[str, Field(pattern=r"^(bad|good)$")] | None = Field(
        default=None, description='"bad": it shows a fault; "good": it shows none'
    )
    parts: Annotated[Parts, Field(min_length=1)] | None = Field(
        default=None,
        description="fitments that showed so; needed where a check of several parts shows which is bad; null: all it looks at",
    )
    fault_present: Annotated[float, Field(gt=0, le=1)] | None = Field(
        default=None, description="chance that the fault was there during this check; null: the case's"
    )
    renewed: Annotated[Parts, Field(min_length=1)] | None = Field(
        default=None, description="fitments taken off and renewed together"
    )
    cured: bool | None = Field(default=None, description="whether the complaint was gone afterwards")
    done_on: PastDate | None = Field(default=None, description="null: today")
    odometer: DistanceIn | None = None
    note: Note | None = None

    @model_validator(mode="after")
    def one_of_both(self) -> Self:
        """Refuse a step that is neither a check nor a renewal, or both."""
        checked, renewed = (self.check, self.outcome), (self.renewed, self.cured)
        about_check = (*checked, self.parts, self.fault_present)
        is_check = None not in checked and renewed == (None, None)
        is_renewal = None not in renewed and set(map(type, about_check)) == {type(None)}
        if not is_check and not is_renewal:
            raise ValueError("either check and outcome, or renewed and cured")
        return self


class ClosingCreate(Body):
    """How it ended. The parts taken out are written into their histories as removals."""

    cured: bool = Field(description="false: given up, the complaint still there")
    by: Parts = Field(
        default=[],
        description="fitments whose renewal cured it; empty: those of the last step if that cured, else something else",
    )
    confirmed: Parts = Field(
        default=[], description="fitments that a bench test or tear-down showed to have failed"
    )
    closed_on: PastDate | None = Field(default=None, description="null: today")
    odometer: DistanceIn | None = None
    note: Note | None = None


class CauseIn(Body):
    """One line of causes; several kinds are alternatives of which a car mostly has one."""

    kinds: Kinds
    weight: Weight
    systems: Systems = Field(default=[])


class OtherCauseIn(Body):
    """A cause that is no wear part of the catalogue."""

    what: Text
    weight: Weight
    systems: Systems = Field(default=[])


class ComplaintCreate(Body):
    """A complaint of the fleet's own."""

    id: Name
    title: Text
    conditions: Conditions = Field(default=[], description="what the complaint itself says of when it shows")
    stop_driving: bool = False
    warning: Annotated[str, Field(max_length=1000)] = Field(
        default="", description="what to do or not to do at once; needed with stop_driving"
    )
    causes: Annotated[list[CauseIn], Field(min_length=1, max_length=50)]
    others: Annotated[list[OtherCauseIn], Field(min_length=1, max_length=20)] = Field(
        default=[OtherCauseIn(what="anything that is not listed", weight=10.0)]
    )
    note: Text | None = Field(default=None, description="where the weights come from")


class CheckCreate(Body):
    """A check of the fleet's own."""

    id: Name
    name: Text
    targets: Kinds = Field(description="part kinds that it looks at")
    sensitivity: float = Field(ge=0.01, le=0.999, description="P(shows bad | faulty)")
    specificity: float = Field(ge=0.01, le=0.999, description="P(shows good | sound)")
    minutes: float = Field(ge=1, le=1000, description="time it takes; no check is free")
    money: float = Field(default=0.0, ge=0, le=10_000, description="what it uses up")
    systems: Systems = Field(default=[])
    needs_fault_present: bool = Field(
        default=False, description="it finds nothing while the fault stays away"
    )
    caution: Annotated[str, Field(max_length=1000)] = ""
    note: Text | None = Field(default=None, description="where the figures come from")
