"""Bodies and answers for what happened to a car: readings, fitments, inspections, repairs, removals."""

from datetime import date, datetime
from typing import Annotated

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from api.history.grades import GRADE, Grade
from api.schemas import (
    Answer,
    Body,
    DistanceIn,
    DistanceOut,
    ExternalRef,
    LimitDistanceIn,
    Name,
    Note,
    PartDistanceIn,
    PastDate,
    UncertainDateText,
)
from planner.catalogue import load_catalogue
from planner.history.evidence import Reason
from planner.history.records import Condition, Finding, RepairAction
from planner.history.shared_events import AGAINST_A_COMPLAINT

Years = Annotated[float, Field(ge=0.01, le=150)]
Position = Annotated[str, Field(max_length=80, examples=["front left", "cylinder 3"])]
MASKED = AGAINST_A_COMPLAINT
"""Reasons of a removal that leave open whether this part was guilty."""


def _of_the_catalogue(name: str) -> str:
    return load_catalogue()[name].id


KindId = Annotated[
    str,
    AfterValidator(_of_the_catalogue),
    Field(
        description="part kind of the catalogue",
        examples=["rotor_arm"],
        json_schema_extra={"enum": list(load_catalogue())},
    ),
]
"""The id of a part kind; an unknown one is told its neighbours."""


class OdometerReadingCreate(Body):
    """What the dial showed on a day; tenths are left out."""

    read_on: PastDate
    reading: DistanceIn
    dial_digits: Annotated[int, Field(ge=4, le=7)] | None = Field(
        default=None, description="figures on the dial: with 5 it starts again at 100,000"
    )
    rollovers: Annotated[int, Field(ge=0, le=20)] | None = Field(
        default=None, description="how often the dial had passed its end by then, where known"
    )
    new_instrument: bool = Field(
        default=False, description="first reading of a replaced or re-set instrument"
    )
    source: Name | None = Field(default=None, description="where the figure comes from")
    external_ref: ExternalRef | None = None

    @field_validator("dial_digits")
    @classmethod
    def _fits_the_dial(cls, digits: int | None, info: ValidationInfo) -> int | None:
        reading = info.data.get("reading")
        if digits is not None and reading is not None and reading.value >= 10**digits:
            raise ValueError(f"enough digits to show {reading.value:g}")
        return digits


class OdometerReadingOut(Answer):
    """A reading as stored.

    Attributes:
        reading: as the keeper wrote it.
        total: true distance that it stands for, after rollovers and replaced instruments, in the same unit.
    """

    id: str
    vehicle_id: str
    read_on: date
    reading: DistanceOut
    total: DistanceOut
    dial_digits: int | None
    rollovers: int | None
    new_instrument: bool
    source: str | None
    external_ref: str | None
    created_at: datetime


class Donor(Body):
    """What a second-hand part had done before it was fitted here."""

    distance: PartDistanceIn | None = None
    years: Annotated[float, Field(ge=0, le=150)] | None = None


class DonorOut(Answer):
    """What a second-hand part had done before."""

    distance: DistanceOut | None
    years: float | None


class Limit(Body):
    """The most that a part may reach from its fitting, whichever comes first."""

    distance: LimitDistanceIn | None = None
    years: Years | None = None


class LimitOut(Answer):
    """A limit as stored."""

    distance: DistanceOut | None
    years: float | None


class FitmentCreate(Body):
    """One part put in one position."""

    kind: KindId
    position: Position | None = None
    fitted_on: UncertainDateText | None = Field(default=None, description="when; null: nobody knows")
    odometer: DistanceIn | None = Field(default=None, description="what the dial showed at the fitting")
    condition: Condition = "new"
    donor: Donor | None = Field(default=None, description="only for a second-hand part")
    grade: Grade | None = Field(default=None, description=GRADE)
    made_on: UncertainDateText | None = Field(default=None, description="from the part's own date code")
    original_chance: Annotated[float, Field(ge=0, le=1)] | None = Field(
        default=None,
        description="chance that it is the car's first, where the day is not known and it looks it",
    )
    cap: Limit | None = Field(default=None, description="a limit of this one part; the shortest limit wins")
    note: Note | None = None
    external_ref: ExternalRef | None = None

    @field_validator("donor")
    @classmethod
    def _only_second_hand(cls, donor: Donor | None, info: ValidationInfo) -> Donor | None:
        if donor is not None and info.data.get("condition") != "second-hand":
            raise ValueError('nothing, unless the condition is "second-hand"')
        return donor


class FitmentOut(Answer):
    """A fitment as stored.

    Attributes:
        in_service: False once a removal is recorded.
    """

    id: str
    vehicle_id: str
    kind: str
    position: str | None
    fitted_on: str | None
    odometer: DistanceOut | None
    condition: Condition
    donor: DonorOut | None
    grade: str | None
    made_on: str | None
    original_chance: float | None
    cap: LimitOut | None
    note: str | None
    external_ref: str | None
    in_service: bool
    created_at: datetime


class Measured(Body):
    """A figure taken at an inspection, in the keeper's own unit."""

    value: Annotated[float, Field(ge=-1e9, le=1e9)]
    unit: Annotated[str, Field(min_length=1, max_length=20, examples=["mm", "kohm"])]
    limit: Annotated[float, Field(ge=-1e9, le=1e9)] | None = Field(
        default=None, description="where the part must be renewed, in the same unit"
    )


class MeasuredOut(Answer):
    """A figure taken at an inspection."""

    value: float
    unit: str
    limit: float | None


class InspectionCreate(Body):
    """Somebody looked at a part."""

    inspected_on: PastDate
    odometer: DistanceIn | None = None
    finding: Finding
    measurement: Measured | None = None
    note: Note | None = None
    external_ref: ExternalRef | None = None


class InspectionOut(Answer):
    """An inspection as stored."""

    id: str
    fitment_id: str
    inspected_on: date
    odometer: DistanceOut | None
    finding: Finding
    measurement: MeasuredOut | None
    note: str | None
    external_ref: str | None
    created_at: datetime


class RepairCreate(Body):
    """Work that left the part in its place."""

    repaired_on: PastDate
    odometer: DistanceIn | None = None
    action: RepairAction
    note: Note | None = None
    external_ref: ExternalRef | None = None


class RepairOut(Answer):
    """A repair as stored."""

    id: str
    fitment_id: str
    repaired_on: date
    odometer: DistanceOut | None
    action: RepairAction
    note: str | None
    external_ref: str | None
    created_at: datetime


class RemovalCreate(Body):
    """The part came off."""

    removed_on: UncertainDateText
    odometer: DistanceIn | None = None
    reason: Reason
    cured: bool | None = Field(
        default=None, description="whether the complaint went away; false on suspicion: the part was good"
    )
    changed_together: Annotated[int, Field(ge=1, le=50)] = Field(
        default=1, description="parts changed against the same complaint, this one included"
    )
    shared_event: Name | None = Field(
        default=None,
        description="your name for that complaint, the same on every part renewed against it: which one was guilty is then "
        "weighed by how likely each was to fail",
    )
    complaint_fit: Annotated[float, Field(gt=0, le=1)] | None = Field(
        default=None,
        description="chance that a failure of this part shows as that complaint; only with shared_event",
    )
    note: Note | None = None
    external_ref: ExternalRef | None = None

    @field_validator("shared_event")
    @classmethod
    def _cause_not_known(cls, name: str | None, info: ValidationInfo) -> str | None:
        reason = info.data.get("reason")
        if name is not None and reason is not None and reason not in MASKED:
            raise ValueError(
                f"nothing, unless the reason is {' or '.join(MASKED)}: otherwise the cause is known"
            )
        return name

    @field_validator("complaint_fit")
    @classmethod
    def _of_a_complaint(cls, fit: float | None, info: ValidationInfo) -> float | None:
        if fit is not None and info.data.get("shared_event", "") is None:
            raise ValueError("nothing without shared_event")
        return fit


class RemovalOut(Answer):
    """A removal as stored."""

    id: str
    fitment_id: str
    removed_on: str
    odometer: DistanceOut | None
    reason: Reason
    cured: bool | None
    changed_together: int
    shared_event: str | None
    complaint_fit: float | None
    note: str | None
    external_ref: str | None
    created_at: datetime
