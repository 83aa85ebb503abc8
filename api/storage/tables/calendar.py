"""Tables of secret addresses under which calendars are read."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record
from api.storage.types import UtcDateTime


class CalendarAddress(Record, table=True):
    """A secret address of a fleet's or a car's calendar.

    Attributes:
        label: what the keeper calls it.
        vehicle_id: the one car that it shows; None: the whole fleet.
        hash: SHA-256 of the secret in hex; the secret itself is never stored.
        rotated_at: when the secret was last replaced; None: never.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "external_ref"),)

    label: str = Field(default="")
    vehicle_id: str | None = Field(default=None, foreign_key="vehicle.id", ondelete="CASCADE", index=True)
    hash: str = Field(unique=True)
    rotated_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
