"""Tables of weekly digests."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Row


class Digest(Row, table=True):
    """A fleet's digest of one ISO week; at most one per week, and never rewritten.

    Attributes:
        week: ISO 8601 week, "2026-W48"; as text in the order of time.
        as_of: the day that it was made for, where the fleet is.
        content: what it says.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "week"),)

    week: str
    as_of: date
    content: dict[str, Any] = Field(sa_type=JSON)
