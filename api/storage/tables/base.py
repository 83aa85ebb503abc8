"""What every table shares: naming of tables and constraints, identity, owner, version, timestamps."""

import re
from datetime import datetime
from typing import Any

from sqlalchemy.orm import declared_attr
from sqlmodel import Field, SQLModel

from api.storage.types import UtcDateTime, new_id, utc_now

metadata = SQLModel.metadata
metadata.naming_convention = {
    "ix": "ix_%(column_0_N_label)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}

_WORD_START = re.compile(r"(?<!^)(?=[A-Z])")


class Table(SQLModel):
    """A table named after its class in snake case: ``OdometerReading`` is ``odometer_reading``."""

    @declared_attr.directive
    def __tablename__(cls) -> str:  # noqa: N805 - a declared attribute receives the class
        return _WORD_START.sub("_", cls.__name__).lower()


class Stamped(Table):
    """Identity, version and timestamps.

    Attributes:
        id: text UUID.
        version: counts changes from 1; the entity tag is made from it. Every update raises it, and an update of a
            row that somebody else has changed in the meantime fails (``StaleDataError``).
        created_at: UTC.
        updated_at: UTC; set by the session on every update.
    """

    id: str = Field(default_factory=new_id, primary_key=True)
    version: int = Field(default=1, nullable=False)
    created_at: datetime = Field(default_factory=utc_now, sa_type=UtcDateTime, nullable=False)
    updated_at: datetime = Field(
        default_factory=utc_now, sa_type=UtcDateTime, nullable=False, sa_column_kwargs={"onupdate": utc_now}
    )

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805 - a declared attribute receives the class
        table = getattr(cls, "__table__", None)
        return {} if table is None else {"version_id_col": table.c.version}


class Row(Stamped):
    """A row that belongs to one fleet; the owner goes with it when it goes."""

    fleet_id: str = Field(foreign_key="fleet.id", ondelete="CASCADE", nullable=False, index=True)


class Record(Row):
    """A row that another system may know under its own name: unique per fleet and table."""

    external_ref: str | None = Field(default=None)
