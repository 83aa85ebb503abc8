"""Bodies and answers for decisions to put work off."""

from datetime import date
from typing import Annotated

from pydantic import Field

from api.schedules.schemas import Status, WindowOut
from api.schemas import NOT_BLANK, Answer, Body, ExternalRef, PastDate

Why = Annotated[
    str, Field(min_length=1, max_length=400, pattern=NOT_BLANK, description="why, in the keeper's words")
]


class PutOffCreate(Body):
    """A decision to put a part's renewal off until a day, or, with null, to decline it."""

    until: PastDate | None = Field(description="the day to be asked again; null: declined")
    reason: Why
    external_ref: ExternalRef | None = None


class PutOffOut(Answer):
    """A decision that stands.

    Attributes:
        accepted: the decision as accepted risk, in words.
        warning: the limit that it does not move, in words; null if none is in its way. It stays while the decision does.
        window: when the part is due under the decision, never past its limit; null once it is off the car.
    """

    fitment_id: str
    kind: str
    part: str
    until: date | None
    reason: str
    decided_on: date
    external_ref: str | None
    accepted: str
    warning: str | None
    window: WindowOut | None
    status: Status | None
    safety: bool
    cautions: list[str]
