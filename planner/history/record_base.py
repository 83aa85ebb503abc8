"""What all history records share: frozen, strict about names, and errors that name the field in the trade's words."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PlainSerializer,
    PlainValidator,
    ValidationError,
    ValidationInfo,
)

from planner.errors import RecordError
from planner.history.dates import FIRST_MOTOR_CAR, UncertainDate

_PLAIN_WANTED = {
    "missing": "a value (it is required)",
    "extra_forbidden": "no field of this name",
    "finite_number": "a finite number",
}


class Record(BaseModel):
    """A line of a car's papers. Wrong values raise `RecordError`, not the validation library's own error."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)

    def __init__(self, **values: Any) -> None:
        try:
            super().__init__(**values)
        except ValidationError as error:
            raise _as_record_error(error) from None

    @classmethod
    def read(cls, values: dict[str, Any]) -> Self:
        """Build the record from a mapping (as from JSON), with the same errors as the constructor.

        Raises:
            RecordError: naming the first field at fault, dotted for nested records.
        """
        return cls(**values)

    def refuse_future(self, today: date, prefix: str = "") -> None:
        """Refuse any day in this record that surely lies after `today`.

        Args:
            today: the day from which the future counts.
            prefix: put before the field's name in the error, for records inside a history.

        Raises:
            RecordError: naming the field.
        """
        for name in type(self).model_fields:
            value = getattr(self, name)
            first = value.earliest if isinstance(value, UncertainDate) else value
            if isinstance(first, date) and first > today:
                raise RecordError(prefix + name, f"a day not after today, {today}", str(value))


def _as_record_error(error: ValidationError) -> RecordError:
    first = error.errors()[0]
    path = [str(step) for step in first["loc"]]
    cause = first.get("ctx", {}).get("error")
    if isinstance(cause, RecordError):
        if not path or path[-1] != cause.field:
            path.append(cause.field)
        return _quoting(".".join(path), cause.wanted, cause.got)
    wanted = _PLAIN_WANTED.get(
        first["type"], first["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    )
    got = "nothing" if first["type"] == "missing" else first["input"]
    return RecordError(".".join(path) or "record", wanted, got)


def _quoting(field: str, wanted: str, got: str) -> RecordError:
    error = RecordError(field, wanted, "")
    error.got = got
    error.args = (f"{field}: wanted {wanted}, got {got}",)
    return error


def _uncertain(value: Any, info: ValidationInfo) -> UncertainDate:
    if isinstance(value, UncertainDate):
        return value
    if isinstance(value, date):
        return UncertainDate.on(_known_day(value, info))
    return UncertainDate.parse(value, field=info.field_name or "date")


def _known_day(value: Any, info: ValidationInfo) -> date:
    day = value
    if isinstance(value, str):
        try:
            day = date.fromisoformat(value.strip())
        except ValueError:
            day = None
    if type(day) is not date or day < FIRST_MOTOR_CAR:
        wanted = f"a calendar day as YYYY-MM-DD, since the first motor car ({FIRST_MOTOR_CAR})"
        raise RecordError(info.field_name or "date", wanted, value)
    return day


UncertainDay = Annotated[UncertainDate, PlainValidator(_uncertain), PlainSerializer(str, return_type=str)]
"""A day that may be rough; given as ISO 8601-2 text, a `datetime.date` or an `UncertainDate`."""

Day = Annotated[date, PlainValidator(_known_day), PlainSerializer(date.isoformat, return_type=str)]
"""A calendar day; given as YYYY-MM-DD or a `datetime.date`. No time of day: services are dated by local calendar."""

Name = Annotated[str, Field(min_length=1, max_length=200)]
"""A short text that must not be empty."""

Years = Annotated[float, Field(ge=0, le=150)]
"""An age or a limit in years."""
