"""Tables of what happened to parts: fitted, looked at, repaired, taken off."""

from datetime import date

from sqlalchemy import Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record


class Fitment(Record, table=True):
    """One part in one position on one car, from the day it was fitted.

    Attributes:
        kind: part kind of the catalogue.
        position: where on the car, "" for the only one of its kind ("front left", "cylinder 3").
        fitted_on: ISO 8601-2 text, may be uncertain; None: unknown.
        fitted_earliest, fitted_likely, fitted_latest: the days that the text stands for.
        odometer_value, odometer_unit: as read at the fitting.
        condition: "new", "second-hand", "rebuilt" or "new old stock".
        donor_value, donor_unit, donor_years: what a second-hand part had done before.
        grade: maker's, aftermarket ...; one that the catalogue's modifiers name ("pattern") bears on its life.
        made_on: ISO 8601-2 text of the part's own date code.
        original_chance: chance that it is the car's first, where its fitting day is not known.
        cap_value, cap_unit, cap_years: a limit for this one part.
        moved_from: the fitment on another car that this one goes on from, where the part was moved.
        in_service: False once a removal stands.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_fitment_vehicle_id_kind_position", "vehicle_id", "kind", "position"),
        Index("ix_fitment_fleet_id_kind", "fleet_id", "kind"),
    )

    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE")
    kind: str
    position: str = ""
    fitted_on: str | None = None
    fitted_earliest: date | None = None
    fitted_likely: date | None = None
    fitted_latest: date | None = None
    odometer_value: float | None = None
    odometer_unit: str | None = None
    condition: str = "new"
    donor_value: float | None = None
    donor_unit: str | None = None
    donor_years: float | None = None
    grade: str | None = None
    made_on: str | None = None
    original_chance: float | None = None
    cap_value: float | None = None
    cap_unit: str | None = None
    cap_years: float | None = None
    note: str | None = None
    moved_from: str | None = Field(default=None, index=True)
    in_service: bool = True


class Inspection(Record, table=True):
    """Somebody looked at a part.

    Attributes:
        finding: "good", "near limit", "worn to limit" or "failed".
        measurement_value, measurement_unit, measurement_limit: what was measured, and the limit, if any.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "external_ref"),)

    fitment_id: str = Field(foreign_key="fitment.id", ondelete="CASCADE", index=True)
    inspected_on: date
    odometer_value: float | None = None
    odometer_unit: str | None = None
    finding: str
    measurement_value: float | None = None
    measurement_unit: str | None = None
    measurement_limit: float | None = None
    note: str | None = None


class Repair(Record, table=True):
    """Work that left the part in place: "cleaned", "dressed", "re-gapped", "adjusted", "repaired"."""

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_repair_fleet_id_repaired_on", "fleet_id", "repaired_on"),
    )

    fitment_id: str = Field(foreign_key="fitment.id", ondelete="CASCADE", index=True)
    repaired_on: date
    odometer_value: float | None = None
    odometer_unit: str | None = None
    action: str
    note: str | None = None


class Removal(Record, table=True):
    """A part came off; at most one per fitment.

    Attributes:
        removed_on: ISO 8601-2 text, may be uncertain.
        removed_earliest, removed_likely, removed_latest: the days that the text stands for.
        reason: why, in the trade's words ("failed, confirmed", "on suspicion" ...).
        cured: whether it cured the complaint; None: not known or no complaint.
        changed_together: parts changed at once for the same complaint, this one included.
        shared_event: the keeper's name for that complaint, the same on every part renewed against it.
        complaint_fit: chance that a failure of this part shows as that complaint; None: as likely as the others'.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_removal_fleet_id_removed_likely", "fleet_id", "removed_likely"),
        Index("ix_removal_fleet_id_shared_event", "fleet_id", "shared_event"),
    )

    fitment_id: str = Field(foreign_key="fitment.id", ondelete="CASCADE", unique=True)
    removed_on: str
    removed_earliest: date
    removed_likely: date
    removed_latest: date
    odometer_value: float | None = None
    odometer_unit: str | None = None
    reason: str
    cured: bool | None = None
    changed_together: int = 1
    shared_event: str | None = None
    complaint_fit: float | None = None
    note: str | None = None
