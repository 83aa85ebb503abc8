"""Tables of fault-findings, and of the complaints and checks that a fleet added to the book's."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record


class FaultFinding(Record, table=True):
    """One complaint about one car, from its opening to its closing.

    Attributes:
        complaint: name of the complaint; title: the same in words.
        system: the car's system when the case was opened; None: unknown.
        conditions: names of what was noticed.
        last_ran_well, noted_on: days between which the fault came up.
        fault_present: chance that the fault shows while a check is made; 1: always.
        opened_with: the car's parts with their clocks, and the shares of causes, as they were on that day.
        suspects: fitments of `opened_with` whose failure can show as this complaint.
        steps: checks and renewals, in order; each check with its figures as they were when it was made.
        closed_on: None while the case is open.
        closing: how it ended and what was written into the histories; empty while it is open.
        cause: what the closed case teaches about the complaint; empty while it is open or where nobody knows.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_fault_finding_fleet_id_complaint", "fleet_id", "complaint"),
        Index("ix_fault_finding_fleet_id_vehicle_id", "fleet_id", "vehicle_id"),
    )

    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE")
    complaint: str
    title: str
    system: str | None = None
    conditions: list[str] = Field(sa_type=JSON)
    last_ran_well: date
    noted_on: date
    fault_present: float = 1.0
    note: str | None = None
    opened_with: dict[str, Any] = Field(sa_type=JSON)
    suspects: list[str] = Field(sa_type=JSON)
    steps: list[dict[str, Any]] = Field(sa_type=JSON)
    closed_on: date | None = None
    closing: dict[str, Any] = Field(sa_type=JSON)
    cause: dict[str, Any] = Field(sa_type=JSON)


class OwnComplaint(Record, table=True):
    """A complaint that a fleet added to the book's, or its own weights for one of the book; cases keep copies."""

    __table_args__ = (UniqueConstraint("fleet_id", "name"), UniqueConstraint("fleet_id", "external_ref"))

    name: str
    content: dict[str, Any] = Field(sa_type=JSON)


class OwnCheck(Record, table=True):
    """A check that a fleet added to the book's, or its own figures for one of the book; steps keep copies."""

    __table_args__ = (UniqueConstraint("fleet_id", "name"), UniqueConstraint("fleet_id", "external_ref"))

    name: str
    content: dict[str, Any] = Field(sa_type=JSON)
