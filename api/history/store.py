"""Queries for what happened to a car: readings, fitments, inspections, repairs, removals."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, TypeVar

from sqlalchemy import or_
from sqlmodel import col, select

from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar

EventT = TypeVar("EventT", Inspection, Repair)


def readings_of(fleet_id: str, vehicle_id: str) -> SelectOfScalar[OdometerReading]:
    """One car's odometer readings by day, for paging."""
    return (
        select(OdometerReading)
        .where(OdometerReading.fleet_id == fleet_id, OdometerReading.vehicle_id == vehicle_id)
        .order_by(col(OdometerReading.read_on), col(OdometerReading.km_total), col(OdometerReading.id))
    )


def reading(session: Session, fleet_id: str, vehicle_id: str, reading_id: str) -> OdometerReading | None:
    """One reading of one car."""
    return session.exec(
        select(OdometerReading).where(
            OdometerReading.fleet_id == fleet_id,
            OdometerReading.vehicle_id == vehicle_id,
            OdometerReading.id == reading_id,
        )
    ).one_or_none()


def fitments_of(fleet_id: str, vehicle_id: str, *, in_service: bool | None = None) -> SelectOfScalar[Fitment]:
    """One car's fitments in the order in which they were entered, for paging."""
    found = select(Fitment).where(Fitment.fleet_id == fleet_id, Fitment.vehicle_id == vehicle_id)
    if in_service is not None:
        found = found.where(col(Fitment.in_service).is_(in_service))
    return found.order_by(col(Fitment.created_at), col(Fitment.id))


class OnCar(NamedTuple):
    """A part that a car has or had: its kind and grade, and the car's circumstances."""

    kind: str
    grade: str | None
    circumstances: Sequence[str]


def parts_on_cars(session: Session, fleet_id: str, places: Sequence[str]) -> list[OnCar]:
    """All parts that some cars have or had, each car named by its id or by that of a part on it."""
    at = select(Fitment.vehicle_id).where(Fitment.fleet_id == fleet_id, col(Fitment.id).in_(places))
    on_them = or_(col(Fitment.vehicle_id).in_(places), col(Fitment.vehicle_id).in_(at))
    found = (
        select(Fitment.kind, Fitment.grade, Vehicle.circumstances)
        .join(Vehicle, col(Vehicle.id) == col(Fitment.vehicle_id))
        .where(Fitment.fleet_id == fleet_id, on_them)
    )
    return [OnCar._make(row) for row in session.exec(found)]


def fitment(session: Session, fleet_id: str, fitment_id: str) -> Fitment | None:
    """One fitment of one fleet."""
    found = select(Fitment).where(Fitment.fleet_id == fleet_id, Fitment.id == fitment_id)
    return session.exec(found).one_or_none()


def inspections_of(fleet_id: str, fitment_id: str) -> SelectOfScalar[Inspection]:
    """One fitment's inspections by day, for paging."""
    return (
        select(Inspection)
        .where(Inspection.fleet_id == fleet_id, Inspection.fitment_id == fitment_id)
        .order_by(col(Inspection.inspected_on), col(Inspection.id))
    )


def repairs_of(fleet_id: str, fitment_id: str) -> SelectOfScalar[Repair]:
    """One fitment's repairs by day, for paging."""
    return (
        select(Repair)
        .where(Repair.fleet_id == fleet_id, Repair.fitment_id == fitment_id)
        .order_by(col(Repair.repaired_on), col(Repair.id))
    )


def event(
    session: Session, table: type[EventT], fleet_id: str, fitment_id: str, event_id: str
) -> EventT | None:
    """One inspection or repair of one fitment."""
    found = select(table).where(
        table.fleet_id == fleet_id, table.fitment_id == fitment_id, table.id == event_id
    )
    return session.exec(found).one_or_none()


def moved_on(session: Session, fleet_id: str, fitment_id: str) -> str | None:
    """The fitment in which a part goes on that was moved to another car; None if it was not."""
    wanted = select(Fitment.id).where(Fitment.fleet_id == fleet_id, Fitment.moved_from == fitment_id)
    return session.exec(wanted).first()


def removal(session: Session, fleet_id: str, fitment_id: str) -> Removal | None:
    """The removal of one fitment, where one is recorded."""
    found = select(Removal).where(Removal.fleet_id == fleet_id, Removal.fitment_id == fitment_id)
    return session.exec(found).one_or_none()


def removals_of(session: Session, fleet_id: str, fitment_ids: Collection[str]) -> Sequence[Removal]:
    """The removals of some fitments; those without one are left out."""
    found = select(Removal).where(Removal.fleet_id == fleet_id, col(Removal.fitment_id).in_(fitment_ids))
    return session.exec(found.order_by(col(Removal.id))).all()


def renewed_against(session: Session, fleet_id: str, shared_event: str) -> list[tuple[Removal, str]]:
    """Removals that bear one complaint's name, each with its car."""
    found = (
        select(Removal, Fitment.vehicle_id)
        .join(Fitment, col(Fitment.id) == col(Removal.fitment_id))
        .where(Removal.fleet_id == fleet_id, Removal.shared_event == shared_event)
    )
    return [(row, vehicle_id) for row, vehicle_id in session.exec(found.order_by(col(Removal.id)))]
