"""Rules for cars: names of other systems are unique, days make sense, changes re-plan the car."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge import keep
from api.bridge.records import vehicle_record
from api.external_refs import refuse_taken
from api.notices.watch import telling
from api.problems import Conflict, NotFound
from api.storage.hidden import tell_imports
from api.storage.tables import Vehicle
from api.vehicles import store
from planner.errors import RecordError

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from api.vehicles.schemas import VehicleCreate, VehicleUpdate


def register(session: Session, who: Principal, body: VehicleCreate) -> Vehicle:
    """Store a new car.

    Raises:
        RecordError: a day in the future, or the car joined before it was built.
        Conflict: the fleet has a car of that ``external_ref``.
    """
    row = Vehicle(fleet_id=who.fleet_id, **body.model_dump())
    vehicle_record(row).refuse_future(who.today())
    refuse_taken(session, Vehicle, who.fleet_id, body.external_ref)
    session.add(row)
    session.flush()
    return row


def found(session: Session, fleet_id: str, vehicle_id: str) -> Vehicle:
    """One car of the fleet.

    Raises:
        NotFound: there is none of that id here.
    """
    row = store.vehicle(session, fleet_id, vehicle_id)
    if row is None:
        raise NotFound("no such vehicle")
    return row


def held(session: Session, fleet_id: str, vehicle_id: str) -> Vehicle:
    """The same, held until the transaction ends; an import that is at work will know of it."""
    tell_imports(session, fleet_id, vehicle_id)
    row = store.vehicle_for_change(session, fleet_id, vehicle_id)
    if row is None:
        raise NotFound("no such vehicle")
    return row


def change(session: Session, who: Principal, row: Vehicle, body: VehicleUpdate) -> Vehicle:
    """Change a car, and re-plan it where a day or the system changed.

    Raises:
        RecordError: a day in the future.
        Conflict: the days contradict what is stored, or the ``external_ref`` is taken.
    """
    refuse_taken(session, Vehicle, who.fleet_id, body.external_ref, now=row.external_ref)
    row.sqlmodel_update(body.changes)
    today = who.today()
    _checked(row, today)
    session.add(row)
    session.flush()
    if "built" in body.changes:
        _refuse_read_before_built(session, row)
    try:
        keep.replan(session, who.fleet_id, [row.id], today)
    except RecordError as error:
        field = next((name for name in ("built", "joined_on") if name in body.changes), "built")
        detail = f"{field}: with it, {error.field} would want {error.wanted}, and is {error.got}"
        raise Conflict(detail, field=field) from error
    return row


def remove(session: Session, who: Principal, row: Vehicle) -> None:
    """Delete a car with its whole history and its forecasts; fitted lives keep what they learnt until the next refit."""
    with telling(session, who.fleet_id, [row.id], who.today()):
        session.delete(row)
        session.flush()


def _refuse_read_before_built(session: Session, row: Vehicle) -> None:
    built, first = vehicle_record(row).built, store.first_read_on(session, row.fleet_id, row.id)
    if built is not None and first is not None and first < built.earliest:
        raise Conflict(
            f"built: wanted a day not after the first odometer reading, {first}, got {built}", field="built"
        )


def _checked(row: Vehicle, today: date) -> None:
    try:
        record = vehicle_record(row)
    except RecordError as error:
        raise Conflict(str(error), field=error.field) from error
    record.refuse_future(today)
