"""Bodies and answers for calendar addresses."""

from datetime import datetime
from typing import Annotated

from pydantic import Field

from api.schemas import Answer, Body, ExternalRef, Note


class CalendarCreate(Body):
    """A secret address to be made, for the fleet or for one car."""

    vehicle_id: Annotated[str, Field(min_length=1, max_length=100)] | None = Field(
        default=None, description="only this car; null: the whole fleet"
    )
    label: Annotated[Note, Field(max_length=200)] = ""
    external_ref: ExternalRef | None = None


class CalendarOut(Answer):
    """A calendar address as listed: never the address itself."""

    id: str
    label: str
    vehicle_id: str | None
    external_ref: str | None
    created_at: datetime
    rotated_at: datetime | None


class CalendarMade(CalendarOut):
    """A calendar address just made or replaced."""

    address: str = Field(description="shown this once and stored nowhere: whoever has it reads the calendar")
