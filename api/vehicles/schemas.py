"""Bodies and answers for cars."""

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import Field

from api.schemas import Answer, Body, ExternalRef, Name, Note, PastDate, UncertainDateText
from planner.units import DistanceUnit

System = Literal["points", "electronic distributor", "injection"]
ChassisNumber = Annotated[str, Field(min_length=1, max_length=40)]
Storage = Annotated[str, Field(min_length=1, max_length=80)]


class VehicleCreate(Body):
    """A car to register."""

    name: Name
    make: Name | None = None
    model: Name | None = None
    built: UncertainDateText | None = None
    chassis_number: ChassisNumber | None = None
    system: System | None = Field(default=None, description="ignition and fuel system; null: not known")
    distance_unit: DistanceUnit = Field(description="unit that the keeper reads; answers come in it")
    storage: Storage | None = Field(default=None, description="how it stands when it is not driven")
    joined_on: PastDate | None = Field(default=None, description="first day under this keeper's records")
    sell_on: PastDate | None = Field(
        default=None,
        description="the day by which it is to be sold; work that does not pay off by then is left",
    )
    notes: Note | None = None
    external_ref: ExternalRef | None = None


class VehicleUpdate(Body):
    """Changes to a car: a field left out stays, null empties it.

    What a car cannot do without takes no null; its stand-in for "left out" is never used (see ``changes``).
    """

    name: Name = Field(default_factory=str)
    make: Name | None = None
    model: Name | None = None
    built: UncertainDateText | None = None
    chassis_number: ChassisNumber | None = None
    system: System | None = None
    distance_unit: DistanceUnit = Field(default_factory=lambda: "km")
    storage: Storage | None = None
    joined_on: PastDate | None = None
    sell_on: PastDate | None = None
    notes: Note | None = None
    external_ref: ExternalRef | None = None

    @property
    def changes(self) -> dict[str, Any]:
        """The fields that the caller named, with their new values."""
        return self.model_dump(include=self.model_fields_set)


class VehicleOut(Answer):
    """A car as stored."""

    id: str
    name: str
    make: str | None
    model: str | None
    built: str | None
    chassis_number: str | None
    system: System | None
    distance_unit: DistanceUnit
    storage: str | None
    joined_on: date | None
    sell_on: date | None
    notes: str | None
    external_ref: str | None
    created_at: datetime
    updated_at: datetime
