"""Bodies of fault-findings."""

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from api.schemas import NOT_BLANK, Body, DistanceIn, ExternalRef, Note, PastDate
from planner.catalogue import load_conditions

Ref = Annotated[str, Field(min_length=1, max_length=100, pattern=NOT_BLANK)]
"""A name that is stored here: of a complaint, a check, a condition or a fitment."""


def each_once(values: list[Any]) -> list[Any]:
    """A list without what was said before."""
    return list(dict.fromkeys(values))


Parts = Annotated[list[Ref], Field(max_length=50), AfterValidator(each_once)]
ConditionId = Annotated[Ref, Field(json_schema_extra={"enum": list(load_conditions())})]
Conditions = Annotated[list[ConditionId], Field(max_length=20), AfterValidator(each_once)]


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
    external_ref: ExternalRef | None = None


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


class StepTakenBack(Body):
    """Which step is taken back: only ever the last."""

    number: int = Field(ge=1, description="of the step, counted from 1")


class ClosingCreate(Body):
    """How it ended. The parts taken out are written into their histories as removals, and the new ones as fitments."""

    cured: bool = Field(description="false: given up, the complaint still there")
    by: Parts = Field(
        default=[],
        description="fitments whose renewal cured it; empty: those of the last step if that cured, else something else",
    )
    confirmed: Parts = Field(
        default=[], description="fitments that a bench test or tear-down showed to have failed"
    )
    fitted: Literal["new", "none"] = Field(
        default="new",
        description="what to write down in place of each part taken out: a new one of the same kind on that day and at "
        "that odometer, unless something is on record there since; or nothing",
    )
    closed_on: PastDate | None = Field(default=None, description="null: today")
    odometer: DistanceIn | None = None
    note: Note | None = None
