"""Records of one fleet by their ids; another fleet's are not found."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from api.history import store
from api.problems import NotFound
from api.storage.tables import Inspection, Repair
from api.vehicles.service import held

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables import Fitment, OdometerReading, Removal

FoundT = TypeVar("FoundT")


def found_reading(session: Session, fleet_id: str, vehicle_id: str, reading_id: str) -> OdometerReading:
    """One reading of one car.

    Raises:
        NotFound: there is none of that id here; so do the other functions of this file.
    """
    return _or_not_found(store.reading(session, fleet_id, vehicle_id, reading_id), "odometer reading")


def found_fitment(session: Session, fleet_id: str, fitment_id: str) -> Fitment:
    """One fitment of the fleet."""
    return _or_not_found(store.fitment(session, fleet_id, fitment_id), "fitment")


def held_fitment(session: Session, fleet_id: str, fitment_id: str) -> Fitment:
    """The same as it is now, with its car held until the transaction ends."""
    row = found_fitment(session, fleet_id, fitment_id)
    held(session, fleet_id, row.vehicle_id)
    session.refresh(row)
    return row


def found_inspection(session: Session, fleet_id: str, fitment_id: str, inspection_id: str) -> Inspection:
    """One inspection of one fitment."""
    row = store.event(session, Inspection, fleet_id, fitment_id, inspection_id)
    return _or_not_found(row, "inspection of this fitment")


def found_repair(session: Session, fleet_id: str, fitment_id: str, repair_id: str) -> Repair:
    """One repair of one fitment."""
    return _or_not_found(
        store.event(session, Repair, fleet_id, fitment_id, repair_id), "repair of this fitment"
    )


def found_removal(session: Session, fleet_id: str, fitment_id: str) -> Removal:
    """The removal of one fitment."""
    return _or_not_found(store.removal(session, fleet_id, fitment_id), "removal of this fitment")


def _or_not_found(row: FoundT | None, what: str) -> FoundT:
    if row is None:
        raise NotFound(f"no such {what}")
    return row
