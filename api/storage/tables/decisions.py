"""Tables of what a keeper decided and plans, of rules published for a kind, and of what looking back on a kind gave."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record, Row


class PutOff(Record, table=True):
    """A keeper's decision to put the renewal of one part off, or to decline it; at most one per fitment.

    Attributes:
        until: the day to be asked again; None: declined.
        reason: why, in the keeper's words; shown as accepted risk as long as the decision stands.
        decided_on: the day of the decision where the fleet is.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "external_ref"),)

    fitment_id: str = Field(foreign_key="fitment.id", ondelete="CASCADE", unique=True)
    until: date | None = None
    reason: str
    decided_on: date


class PlannedUse(Record, table=True):
    """A tour of a known distance, or a lay-up, that the keeper of a car knows of.

    Attributes:
        what: "tour" or "lay-up".
        starts_on, ends_on: first and last day.
        distance_value, distance_unit: over those days, in place of the usual; None for a lay-up.
        name: what the keeper calls it.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_planned_use_vehicle_id_starts_on", "vehicle_id", "starts_on"),
    )

    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE")
    what: str
    starts_on: date
    ends_on: date
    distance_value: float | None = None
    distance_unit: str | None = None
    name: str | None = None


class KindRule(Row, table=True):
    """The rule for a kind over a fleet's spread of use, as a job worked it out; at most one per kind.

    Attributes:
        model_id: life that it rests on; None once that is gone.
        fingerprint: of the terms that it rests on.
        content: the rule, its costs, and the cars that it is for.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "kind"),)

    kind: str
    model_id: str | None = Field(default=None, foreign_key="life_model.id", ondelete="SET NULL", index=True)
    fingerprint: str
    content: dict[str, Any] = Field(sa_type=JSON)


class KindBacktest(Row, table=True):
    """What looking back on a kind gave, as a job worked it out; at most one per kind.

    Attributes:
        content: the planner's account, and what was asked.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "kind"),)

    kind: str
    content: dict[str, Any] = Field(sa_type=JSON)
