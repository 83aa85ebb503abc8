"""Tables of cars and their odometers."""

from datetime import date

from sqlalchemy import JSON, Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record, Row


class Vehicle(Record, table=True):
    """One car.

    Attributes:
        name: what the keeper calls it.
        built: ISO 8601-2 text, may be uncertain ("1964~").
        system: ignition and fuel system: "points", "electronic distributor", "injection" or None (unknown).
        distance_unit: unit that the keeper reads: "km" or "mi".
        storage: how it stands when it is not driven.
        circumstances: ids of the catalogue's modifiers that hold for it, sorted; they stretch or shorten its parts' lives.
        joined_on: first day under this keeper's records.
        sell_on: the day by which the keeper means to have sold it; None: it stays.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_vehicle_fleet_id_created_at_id", "fleet_id", "created_at", "id"),
    )

    name: str
    make: str | None = None
    model: str | None = None
    built: str | None = None
    chassis_number: str | None = None
    system: str | None = None
    distance_unit: str
    storage: str | None = None
    circumstances: list[str] = Field(default_factory=list, sa_type=JSON)
    joined_on: date | None = None
    sell_on: date | None = None
    notes: str | None = None


class OdometerReading(Record, table=True):
    """What the instrument showed on one day, and the true distance that it stands for.

    Attributes:
        reading_value: as read, in ``reading_unit`` ("km" or "mi").
        dial_digits: wheels on the instrument; it rolls over at 10 to that power.
        rollovers: how often it had rolled over by then, if known.
        new_instrument: this is the first reading of a replaced instrument.
        source: where the reading comes from (invoice, test certificate, keeper).
        km_total: true kilometres since the first reading's zero, after rollovers and instruments.
    """

    __table_args__ = (
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_odometer_reading_vehicle_id_read_on", "vehicle_id", "read_on"),
    )

    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE")
    read_on: date
    reading_value: float
    reading_unit: str
    dial_digits: int | None = None
    rollovers: int | None = None
    new_instrument: bool = False
    source: str | None = None
    km_total: float


class VehicleUsage(Row, table=True):
    """How much a car is driven, worked out from its readings; one row per car, refreshed when they change.

    Attributes:
        km_per_year, low, high: yearly distance in km: likely value and 10 % and 90 % points.
        as_of: day for which ``km_at_as_of`` (true kilometres) stands.
        basis: how it was worked out, in words.
    """

    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE", unique=True)
    km_per_year: float
    low: float
    high: float
    as_of: date
    km_at_as_of: float | None = None
    basis: str
