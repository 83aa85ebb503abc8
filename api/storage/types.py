"""Column types and small values shared by every table: UTC timestamps, text identifiers."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sqlalchemy import DateTime
from sqlalchemy.types import TypeDecorator

if TYPE_CHECKING:
    from sqlalchemy.engine import Dialect


def new_id() -> str:
    """A fresh text UUID (version 4)."""
    return str(uuid.uuid4())


def utc_now() -> datetime:
    """This moment, aware, in UTC."""
    return datetime.now(UTC)


class UtcDateTime(TypeDecorator[datetime]):
    """An aware timestamp, kept in UTC and given back in UTC on every database.

    SQLite keeps no zone and gives naive values back; this type closes that gap.

    Raises:
        ValueError: a naive value is written: its zone would be a guess.
    """

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - the base class passes it by name
        """Turn the value into UTC before it is written."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"wanted an aware timestamp, got the naive {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - as above
        """Give the value back aware, in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
