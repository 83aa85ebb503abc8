"""Removals tried against a car's other records, and against those there are already, before anything is written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge import gather
from api.history import store
from api.problems import Conflict
from planner.history.timeline import timeline

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from sqlmodel import Session

    from planner.history.records import Removal


def try_removals(
    session: Session, fleet_id: str, vehicle_id: str, removals: Mapping[str, Removal], today: date
) -> None:
    """Refuse removals that could not be written down as things stand; nothing is stored.

    Args:
        session: any session.
        fleet_id: whose car.
        vehicle_id: the car.
        removals: by fitment; parts that were struck out or came off already are passed over.
        today: no record may be later.

    Raises:
        RecordError: one contradicts the part's or the car's other records, naming the field.
    """
    (car,) = gather.cars(session, fleet_id, [vehicle_id])
    here = {part.row.id for part in car.in_service}
    tried = {fitment_id: removal for fitment_id, removal in removals.items() if fitment_id in here}
    after = gather.with_removals(car, tried) if tried else car
    for fitment_id in tried:
        timeline(after.part(fitment_id).history, today)


def refuse_off_before(session: Session, fleet_id: str, field: str, days: Mapping[str, date]) -> None:
    """Refuse to take parts off that by their own removals were off before; one removed that same day is right.

    Args:
        session: any session.
        fleet_id: whose parts.
        field: of the body, that names them.
        days: on which each is said to have come off, by fitment.

    Raises:
        Conflict: one was off for certain before its day.
    """
    for removal in store.removals_of(session, fleet_id, days):
        day = days[removal.fitment_id]
        if removal.removed_latest < day:
            raise Conflict(
                f"{field}: {removal.fitment_id} was off the car by {removal.removed_latest}, as its removal says: "
                f"wanted parts that were on it on {day}",
                field=field,
            )
