"""Rows of cars into histories: the true odometer track of each car, and every part that it has or had."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeVar

from api.bridge import records, store
from api.storage.tables import Inspection, Removal, Repair
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.succession import with_successors

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping

    from sqlmodel import Session

    from api.storage.tables import Fitment, OdometerReading, Vehicle
    from planner.history.records import OdometerReading as Reading
    from planner.history.records import Removal as Removed
    from planner.history.records import Vehicle as VehicleRecord

CARS_AT_ONCE = 200
"""How many cars are read at a time when a whole fleet is gone through."""


@dataclass(frozen=True)
class Part:
    """One part that a car has or had.

    Attributes:
        row: its fitment.
        history: the same as the planner sees it, with the car's track.
    """

    row: Fitment
    history: PartHistory


@dataclass(frozen=True)
class Car:
    """One car with its whole history.

    Attributes:
        row: the car.
        readings: rows of its odometer readings.
        track: true distance by day, from the readings and from figures written at fittings, looks and removals on
            days known exactly; None where no figure was ever written.
        parts: in the order in which they were entered.
    """

    row: Vehicle
    readings: tuple[OdometerReading, ...]
    track: OdometerTrack | None
    parts: tuple[Part, ...]

    @property
    def in_service(self) -> tuple[Part, ...]:
        """The parts that are on the car now."""
        return tuple(part for part in self.parts if part.row.in_service)

    def part(self, fitment_id: str) -> Part:
        """The part of that fitment."""
        return next(part for part in self.parts if part.row.id == fitment_id)


def cars(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> list[Car]:
    """Whole histories of cars, in the order of their ids; six queries, however many cars.

    Raises:
        RecordError: a stored odometer figure falls and nothing explains it (possible only for one just added).
    """
    by_car = grouped(store.readings(session, fleet_id, vehicle_ids), "vehicle_id")
    fitted = grouped(store.fitments(session, fleet_id, vehicle_ids), "vehicle_id")
    events = Events(
        grouped(store.events(session, Inspection, fleet_id, vehicle_ids), "fitment_id"),
        grouped(store.events(session, Repair, fleet_id, vehicle_ids), "fitment_id"),
        grouped(store.events(session, Removal, fleet_id, vehicle_ids), "fitment_id"),
    )
    rows = store.vehicles(session, fleet_id, vehicle_ids)
    return [assembled(row, by_car[row.id], fitted[row.id], events) for row in rows]


def cars_with(session: Session, fleet_id: str, kind: str) -> Iterator[list[Car]]:
    """Every car of the fleet that has or had a part of one kind, some cars at a time."""
    ids = store.vehicles_with(session, fleet_id, kind)
    for start in range(0, len(ids), CARS_AT_ONCE):
        yield cars(session, fleet_id, ids[start : start + CARS_AT_ONCE])


@dataclass(frozen=True)
class Events:
    """What happened to parts, by fitment."""

    inspections: dict[str, list[Inspection]]
    repairs: dict[str, list[Repair]]
    removals: dict[str, list[Removal]]


def assembled(row: Vehicle, readings: list[OdometerReading], fitted: list[Fitment], events: Events) -> Car:
    """One car from its rows; those of other cars among the events are left aside.

    Raises:
        RecordError: an odometer figure falls and nothing explains it.
    """
    vehicle = records.vehicle_record(row)
    drafts = with_successors(_history(vehicle, fitment, events) for fitment in fitted)
    track = _track(readings, drafts)
    parts = tuple(
        Part(fitment, replace(draft, track=track)) for fitment, draft in zip(fitted, drafts, strict=True)
    )
    return Car(row, tuple(readings), track, parts)


def with_removals(car: Car, removals: Mapping[str, Removed]) -> Car:
    """The same car as it would be with these parts taken off, by fitment.

    Raises:
        RecordError: an odometer figure falls and nothing explains it.
    """
    drafts = [
        replace(part.history, removal=removals.get(part.row.id, part.history.removal)) for part in car.parts
    ]
    track = _track(list(car.readings), drafts)
    tried = zip(car.parts, drafts, strict=True)
    parts = tuple(Part(part.row, replace(draft, track=track)) for part, draft in tried)
    return replace(car, track=track, parts=parts)


def _history(vehicle: VehicleRecord, fitment: Fitment, events: Events) -> PartHistory:
    removals = [records.removal_record(row) for row in events.removals[fitment.id]]
    return PartHistory(
        vehicle=vehicle,
        fitment=records.fitment_record(fitment),
        inspections=tuple(records.inspection_record(row) for row in events.inspections[fitment.id]),
        repairs=tuple(records.repair_record(row) for row in events.repairs[fitment.id]),
        removal=removals[0] if removals else None,
    )


def _track(readings: list[OdometerReading], histories_: list[PartHistory]) -> OdometerTrack | None:
    looks = [records.reading_record(row) for row in readings]
    extra = [shown for history in histories_ for shown in _written(history)]
    return OdometerTrack.from_readings(looks, extra=extra) if looks or extra else None


def _written(history: PartHistory) -> Iterator[Reading]:
    """Figures off the dial that stand beside a part's own events."""
    if history.fitment.fitted_on is not None:
        yield from records.shown_on(history.fitment.fitted_on, history.fitment.odometer)
    for look in history.inspections:
        yield from records.shown_on(look.inspected_on, look.odometer)
    for repair in history.repairs:
        yield from records.shown_on(repair.repaired_on, repair.odometer)
    if history.removal is not None:
        yield from records.shown_on(history.removal.removed_on, history.removal.odometer)


RowT = TypeVar("RowT")


def grouped(rows: Iterable[RowT], by: str) -> dict[str, list[RowT]]:
    """Rows by one of their columns; nothing under a value that none has."""
    groups: dict[str, list[RowT]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, by)].append(row)
    return groups
