"""Shapes that requests and answers of every feature share: bodies, distances, uncertain dates, pages."""

from datetime import date
from typing import Annotated, Any, Generic, Literal, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetJsonSchemaHandler,
    ValidationInfo,
    field_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from api.web import json_types
from planner.errors import InputError
from planner.units import to_km

ItemT = TypeVar("ItemT")

_LARGEST_INTEGER = 2**31 - 1
"""Largest whole number that an integer column of PostgreSQL holds."""


NO_NUL = r"^[^\u0000]*$"
NOT_BLANK = r"^[^\u0000]*[^\s\u0000][^\u0000]*$"
"""Patterns for the document: text that a database keeps, and such text with something to read in it."""


class Body(BaseModel):
    """Base of every request body: unknown fields, NaN, infinities and text that no database keeps are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)

    @field_validator("*", mode="before")
    @classmethod
    def of_its_own_type(cls, value: Any, info: ValidationInfo) -> Any:
        """Refuse what the schema forbids and pydantic would convert: true as 1, "5" as 5, 0 as a day of 1970."""
        return json_types.unconverted(value, cls.model_fields[str(info.field_name)].annotation)

    @field_validator("*", mode="after")
    @classmethod
    def storable(cls, value: Any) -> Any:
        """Refuse text with NUL characters and whole numbers beyond 32 bits, in any field."""
        if isinstance(value, str) and "\x00" in value:
            raise ValueError("text without NUL characters")
        if isinstance(value, int) and abs(value) > _LARGEST_INTEGER:
            raise ValueError(f"a whole number up to {_LARGEST_INTEGER}")
        return value

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Say in the document what is checked in every text: no NUL, and no blank one where it may not be empty."""
        shown = handler(schema)
        for field in handler.resolve_ref_schema(shown).get("properties", {}).values():
            for part in field.get("anyOf", [field]):
                if part.get("type") == "string" and not {"format", "enum", "const"} & part.keys():
                    part.setdefault("pattern", NOT_BLANK if part.get("minLength") else NO_NUL)
        return shown


class Answer(BaseModel):
    """Base of every answer; reads attributes of rows as well as mappings."""

    model_config = ConfigDict(from_attributes=True)


Name = Annotated[str, Field(min_length=1, max_length=200)]
"""A short name that may not be empty."""

Note = Annotated[str, Field(max_length=4000)]
"""Free text."""

ExternalRef = Annotated[
    str,
    Field(
        min_length=1,
        max_length=200,
        description="another system's own id; unique per fleet and kind of record",
    ),
]


CalendarDate = Annotated[date, BeforeValidator(json_types.written_day)]
"""A day in a query, written out: the framework alone would take 0 for a day of 1970."""

PastDate = Annotated[date, Field(ge=date(1880, 1, 1))]
"""A calendar day of the motor car's age; whether it lies in the future is checked against the fleet's own today."""


class DistanceIn(Body):
    """A distance as the keeper wrote it."""

    value: float = Field(ge=0, le=3_000_000)
    unit: Literal["km", "mi"]

    @property
    def km(self) -> float:
        """The distance in kilometres."""
        return to_km(self.value, self.unit)


class PartDistanceIn(DistanceIn):
    """A distance that one part has done."""

    value: float = Field(ge=0, le=600_000)


class LimitDistanceIn(DistanceIn):
    """A distance that a part may do at most."""

    value: float = Field(ge=1, le=600_000)


class DistanceOut(Answer):
    """A distance in the unit that it was written in."""

    value: float
    unit: Literal["km", "mi"]


def distance_out(value: float | None, unit: str | None) -> DistanceOut | None:
    """A stored pair of columns as a distance; None when there is none."""
    if value is None or unit is None:
        return None
    return DistanceOut.model_validate({"value": value, "unit": unit})


def _uncertain(text: str) -> str:
    from planner.history.dates import UncertainDate  # noqa: PLC0415 - loaded when the first date is read

    try:
        UncertainDate.parse(text)
    except InputError as error:
        raise ValueError(error.wanted) from error
    return text


UncertainDateText = Annotated[
    str,
    Field(
        description="ISO 8601-2 date, may be uncertain",
        examples=["1998-05-12", "1998~", "1998-05"],
        json_schema_extra={"format": "iso8601-2"},
    ),
    AfterValidator(_uncertain),
]
"""A day, month or year, exact or approximate, as ISO 8601-2 text."""


class Page(Answer, Generic[ItemT]):
    """One page of a list; the Link header (RFC 8288) leads to the others."""

    items: list[ItemT]
