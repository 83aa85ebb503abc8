"""Bodies and answers for tours and lay-ups ahead."""

from datetime import date, datetime
from typing import Literal

from pydantic import Field, ValidationInfo, field_validator

from api.schemas import Answer, Body, DistanceIn, DistanceOut, ExternalRef, Name, PastDate

What = Literal["tour", "lay-up"]

LONGEST_DAYS = {"tour": 366, "lay-up": 3_660}


class TourDistanceIn(DistanceIn):
    """The distance of a tour."""

    value: float = Field(ge=0.1, le=60_000)


class PlannedUseCreate(Body):
    """A tour of a known distance, or a lay-up in which the car stands; both days count.

    The distance stands in place of what is usually driven in those days; before and after, the car goes on as usual.
    """

    what: What
    starts_on: PastDate
    ends_on: PastDate = Field(description="a tour of a year at most, a lay-up of ten")
    distance: TourDistanceIn | None = Field(
        default=None, validate_default=True, description="of a tour; a lay-up has none"
    )
    name: Name | None = None
    external_ref: ExternalRef | None = None

    @field_validator("ends_on")
    @classmethod
    def _in_order(cls, ends_on: date, info: ValidationInfo) -> date:
        starts_on, what = info.data.get("starts_on"), info.data.get("what")
        if starts_on is None or what is None:
            return ends_on
        if ends_on < starts_on:
            raise ValueError(f"a day from starts_on ({starts_on}) on")
        if (ends_on - starts_on).days >= LONGEST_DAYS[what]:
            raise ValueError(f"at most {LONGEST_DAYS[what]:,} days after starts_on, for a {what}")
        return ends_on

    @field_validator("distance")
    @classmethod
    def _only_tours(cls, distance: TourDistanceIn | None, info: ValidationInfo) -> TourDistanceIn | None:
        what = info.data.get("what")
        if what == "tour" and distance is None:
            raise ValueError("the distance of the tour")
        if what == "lay-up" and distance is not None:
            raise ValueError("nothing: the car stands in a lay-up")
        return distance


class PlannedUseOut(Answer):
    """A tour or lay-up as stored; a lay-up has no distance."""

    id: str
    vehicle_id: str
    what: What
    starts_on: date
    ends_on: date
    distance: DistanceOut | None
    name: str | None
    external_ref: str | None
    created_at: datetime
