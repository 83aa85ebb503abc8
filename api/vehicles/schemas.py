"""Bodies and answers for cars."""

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field

from api.schemas import Answer, Body, ExternalRef, Name, Note, PastDate, UncertainDateText
from planner.catalogue import circumstances_of_cars
from planner.units import DistanceUnit

System = Literal["points", "electronic distributor", "injection"]
ChassisNumber = Annotated[str, Field(min_length=1, max_length=40)]
Storage = Annotated[str, Field(min_length=1, max_length=80)]


def _known(ids: list[str]) -> list[str]:
    """Ids of circumstances in order, each once, none that another rules out."""
    known = circumstances_of_cars()
    strange = [name for name in ids if name not in known]
    if strange:
        raise ValueError(f"ids among {', '.join(sorted(known))}, not {strange[0]!r}")
    if len(set(ids)) < len(ids):
        raise ValueError("each circumstance once")
    for name in ids:
        other = next((one for one in known[name].not_with if one in ids), None)
        if other is not None:
            raise ValueError(f"not {name} together with {other}")
    return sorted(ids)


def _in_the_document(schema: dict[str, Any]) -> None:
    known = circumstances_of_cars()
    schema["items"]["enum"] = sorted(known)
    schema["uniqueItems"] = True
    pairs = {tuple(sorted((one.id, other))) for one in known.values() for other in one.not_with}
    together = [{"allOf": [{"contains": {"const": name}} for name in pair]} for pair in sorted(pairs)]
    schema["not"] = {"anyOf": together}


Circumstances = Annotated[
    list[str],
    AfterValidator(_known),
    Field(
        max_length=20,
        json_schema_extra=_in_the_document,
        description="how it stands, is driven and fuelled, for as long as its records go back, by ids that the catalogue knows: its parts' lives follow",
    ),
]


class VehicleCreate(Body):
    """A car to register."""

    name: Name
    make: Name | None = None
    model: Name | None = None
    built: UncertainDateText | None = None
    chassis_number: ChassisNumber | None = None
    system: System | None = Field(default=None, description="ignition and fuel system; null: not known")
    distance_unit: DistanceUnit = Field(description="unit that the keeper reads; answers come in it")
    storage: Storage | None = Field(
        default=None, description="how it stands when it is not driven, in words that nothing reads"
    )
    circumstances: Circumstances = Field(default=[])
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
    circumstances: Circumstances | None = None
    joined_on: PastDate | None = None
    sell_on: PastDate | None = None
    notes: Note | None = None
    external_ref: ExternalRef | None = None

    @property
    def changes(self) -> dict[str, Any]:
        """The fields that the caller named, with their new values."""
        changes = self.model_dump(include=self.model_fields_set)
        if "circumstances" in changes:
            changes["circumstances"] = changes["circumstances"] or []
        return changes


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
    circumstances: list[str]
    joined_on: date | None
    sell_on: date | None
    notes: str | None
    external_ref: str | None
    created_at: datetime
    updated_at: datetime
