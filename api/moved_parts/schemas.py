"""Bodies and answers for parts that move from one car to another."""

from typing import Annotated, Literal

from pydantic import Field

from api.history.schemas import FitmentOut, Measured
from api.schemas import Answer, Body, DistanceIn, ExternalRef, Note, PastDate

ReasonForOthers = Literal["while there", "upgrade", "sold", "unknown"]


class PartToMove(Body):
    """One part, and the name by which another system is to know the fitment in which it goes on."""

    fitment_id: Annotated[str, Field(min_length=1, max_length=200)]
    external_ref: ExternalRef | None = None
    measurement: Measured | None = Field(
        default=None, description="taken at the move; needed for a part that was measured before"
    )


class MovedPartsCreate(Body):
    """Parts taken off one car and fitted to another on the same day."""

    from_vehicle_id: Annotated[str, Field(min_length=1, max_length=200)] = Field(
        description="the car that they come off"
    )
    moved_on: PastDate
    parts: list[PartToMove] = Field(
        min_length=1, max_length=100, description="fitments of that car, in service, last found good"
    )
    odometer_there: DistanceIn | None = Field(
        default=None, description="what the dial of the car that they come off showed"
    )
    odometer: DistanceIn | None = Field(
        default=None, description="what the dial of the car that they go into showed"
    )
    in_their_places: ReasonForOthers | None = Field(
        default=None,
        description="why the parts came off that were in their places; null: the places were empty",
    )
    note: Note | None = None


class MovedPart(Answer):
    """One part: the fitment that ended, and the one that goes on with its distance and age."""

    from_fitment_id: str
    fitment: FitmentOut


class MovedPartsOut(Answer):
    """What was written down.

    Attributes:
        moved: in the order in which they were named.
        taken_off: fitments of the receiving car that came off to make room.
        words: what goes on with the parts, and what does not.
    """

    moved: list[MovedPart]
    taken_off: list[str]
    words: str
