"""Rules for what happened to a car: each record agrees with the others, and each change re-plans the car."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, TypeVar

from api.bridge import keep
from api.bridge.records import (
    fitment_record,
    inspection_record,
    reading_record,
    removal_record,
    repair_record,
    vehicle_record,
)
from api.external_refs import refuse_taken
from api.history import store
from api.history.lookups import (
    found_inspection,
    found_reading,
    found_removal,
    found_repair,
    held_fitment,
)
from api.history.rows import fitment_row, inspection_row, removal_row, repair_row
from api.history.shared_events import agree_with_the_others
from api.notices.watch import telling
from api.problems import Conflict
from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair
from api.vehicles.service import held
from planner.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlmodel import Session

    from api.history import schemas
    from api.security import Principal
    from api.storage.tables.base import Record

RecordT = TypeVar("RecordT", bound="Record")


def add_reading(
    session: Session, who: Principal, vehicle_id: str, body: schemas.OdometerReadingCreate
) -> OdometerReading:
    """Store an odometer reading.

    Raises:
        NotFound: no such car in this fleet.
        RecordError: a day in the future.
        Conflict: the car was not built yet, or the figure falls, or makes a later one fall, and nothing explains it.
    """
    vehicle = held(session, who.fleet_id, vehicle_id)
    row = OdometerReading(
        fleet_id=who.fleet_id,
        vehicle_id=vehicle_id,
        reading_value=body.reading.value,
        reading_unit=body.reading.unit,
        km_total=body.reading.km,
        **body.model_dump(exclude={"reading"}),
    )
    reading_record(row).refuse_future(who.today())
    built = vehicle_record(vehicle).built
    if built is not None and row.read_on < built.earliest:
        wanted = f"a day not before the car was built, {built}"
        raise Conflict(f"read_on: wanted {wanted}, got {row.read_on}", field="read_on")
    _add(session, row)
    with conflicts_in("reading"):
        keep.replan(session, who.fleet_id, [vehicle_id], who.today())
    return row


def remove_reading(session: Session, who: Principal, vehicle_id: str, reading_id: str) -> None:
    """Take a reading back.

    Raises:
        NotFound: no such reading.
        Conflict: without it a later figure falls (it was a new instrument's first, or showed a rollover).
    """
    held(session, who.fleet_id, vehicle_id)
    session.delete(found_reading(session, who.fleet_id, vehicle_id, reading_id))
    session.flush()
    with conflicts_in("reading"):
        keep.replan(session, who.fleet_id, [vehicle_id], who.today())


def add_fitment(session: Session, who: Principal, vehicle_id: str, body: schemas.FitmentCreate) -> Fitment:
    """Store a fitment.

    Raises:
        NotFound: no such car in this fleet.
        UnknownPartKind: no such kind in the catalogue.
        RecordError: a day in the future, or made after it was fitted.
        Conflict: the day or the figure contradicts the car's other records.
    """
    held(session, who.fleet_id, vehicle_id)
    row = fitment_row(who.fleet_id, vehicle_id, body)
    fitment_record(row).refuse_future(who.today())
    _add(session, row)
    with conflicts_in("fitted_on", "fitment"):
        keep.replan(session, who.fleet_id, [vehicle_id], who.today(), checking=row.id)
    return row


def add_inspection(
    session: Session, who: Principal, fitment_id: str, body: schemas.InspectionCreate
) -> Inspection:
    """Store an inspection; errors as `add_fitment`."""
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    row = inspection_row(who.fleet_id, fitment_id, body)
    inspection_record(row).refuse_future(who.today())
    _add(session, row)
    with conflicts_in("inspected_on", "inspections"):
        keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today(), checking=fitment_id)
    return row


def add_repair(session: Session, who: Principal, fitment_id: str, body: schemas.RepairCreate) -> Repair:
    """Store a repair; errors as `add_fitment`."""
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    row = repair_row(who.fleet_id, fitment_id, body)
    repair_record(row).refuse_future(who.today())
    _add(session, row)
    with conflicts_in("repaired_on", "repairs"):
        keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today(), checking=fitment_id)
    return row


def remove_inspection(session: Session, who: Principal, fitment_id: str, inspection_id: str) -> None:
    """Take an inspection back.

    Raises:
        NotFound: no such inspection of this fitment.
    """
    _remove(session, who, fitment_id, found_inspection(session, who.fleet_id, fitment_id, inspection_id))


def remove_repair(session: Session, who: Principal, fitment_id: str, repair_id: str) -> None:
    """Take a repair back.

    Raises:
        NotFound: no such repair of this fitment.
    """
    _remove(session, who, fitment_id, found_repair(session, who.fleet_id, fitment_id, repair_id))


def add_removal(session: Session, who: Principal, fitment_id: str, body: schemas.RemovalCreate) -> Removal:
    """Store a part's removal: it is no longer in service.

    Raises:
        NotFound: no such fitment in this fleet.
        RecordError: a day in the future.
        Conflict: it is removed already, or was removed before it was fitted or last looked at, or the figure falls, or it
            contradicts other parts renewed against the same complaint.
    """
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    if not fitment.in_service:
        raise Conflict("this fitment has a removal already; delete that one first")
    row = removal_row(who.fleet_id, fitment_id, body)
    removal_record(row).refuse_future(who.today())
    agree_with_the_others(session, fitment, row)
    fitment.in_service = False
    session.add(fitment)
    _add(session, row)
    with conflicts_in("removed_on", "removal"):
        keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today(), checking=fitment_id)
    return row


def take_back_removal(session: Session, who: Principal, fitment_id: str) -> None:
    """Delete a removal: the part is in service again.

    Raises:
        NotFound: no such fitment, or it has no removal.
        Conflict: the part goes on in another car.
    """
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    elsewhere = store.moved_on(session, who.fleet_id, fitment_id)
    if elsewhere is not None:
        raise Conflict(f"the part goes on in another car as fitment {elsewhere}; delete that one first")
    session.delete(found_removal(session, who.fleet_id, fitment_id))
    fitment.in_service = True
    session.add(fitment)
    session.flush()
    keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today())


def remove_fitment(session: Session, who: Principal, fitment_id: str) -> None:
    """Delete a fitment with its inspections, repairs, removal and forecast.

    Raises:
        NotFound: no such fitment in this fleet.
    """
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    with telling(session, who.fleet_id, [fitment.vehicle_id], who.today()):
        session.delete(fitment)
        session.flush()
        keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today())


@contextmanager
def conflicts_in(field: str, record: str = "") -> Iterator[None]:
    """Turn a contradiction between records into a conflict that names a field of the body.

    Args:
        field: named when the contradiction shows in another record than the one just sent.
        record: the planner's name of the one just sent ("removal", "inspections"); its own fields are named as they are.
    """
    try:
        yield
    except RecordError as error:
        name = field_at_fault(error, field, record)
        raise Conflict(f"{name}: wanted {error.wanted}, got {error.got}", field=name) from error


def field_at_fault(error: RecordError, field: str, record: str = "") -> str:
    """The field of a body that a contradiction between records is named by; arguments as of `conflicts_in`."""
    place, _, own = error.field.partition(".")
    about = place.partition("[")[0]
    dial = "odometer" if about == "readings" and record else field
    named = own if record and about == record and own else dial
    return named.partition(".")[0]


def _remove(session: Session, who: Principal, fitment_id: str, row: Record) -> None:
    fitment = held_fitment(session, who.fleet_id, fitment_id)
    session.delete(row)
    session.flush()
    keep.replan(session, who.fleet_id, [fitment.vehicle_id], who.today())


def _add(session: Session, row: RecordT) -> None:
    refuse_taken(session, type(row), row.fleet_id, row.external_ref)
    session.add(row)
    session.flush()
