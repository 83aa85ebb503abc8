"""Tables of who may ask: fleets and their keys."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record, Stamped
from api.storage.types import UtcDateTime


class Fleet(Stamped, table=True):
    """Cars kept together under one set of keys; data never cross from one fleet to another.

    Attributes:
        name: unique; the operator names it on the command line.
        time_zone: IANA name; "today" is today there.
        currency: ISO 4217 code; all money of the fleet is in it.
        pooling: whether it learns together with other fleets that do.
        dated_on: the latest day for which the fleet's dates were queued to be worked out anew.
        discount_rate: how much less a cost counts for each year that it lies ahead (0.03: 3 %), continuously; 0: as much.
    """

    name: str = Field(unique=True)
    time_zone: str = Field(default="UTC")
    currency: str = Field(default="EUR")
    pooling: bool = Field(default=False)
    dated_on: date | None = Field(default=None)
    discount_rate: float = Field(default=0.0)


class ApiKey(Record, table=True):
    """A key to one fleet.

    Attributes:
        label: what the keeper calls it.
        prefix: the public part by which the row is found.
        hash: SHA-256 of the secret part in hex; the secret itself is never stored.
        scope: "read", "write" or "admin"; each includes the ones before it.
        expires_at: from this moment on the key opens nothing; None: no end.
        last_used_at: to the minute.
        revoked_at: set once; a revoked key stays listed.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "external_ref"),)

    label: str = Field(default="")
    prefix: str = Field(unique=True)
    hash: str
    scope: str
    expires_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    last_used_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    revoked_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
