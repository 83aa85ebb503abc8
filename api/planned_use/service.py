"""Rules for tours and lay-ups ahead: two share no day, and each change re-plans the car."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge import keep
from api.external_refs import refuse_taken
from api.planned_use import store
from api.planned_use.schemas import PlannedUseOut
from api.problems import Conflict, Malformed, NotFound
from api.schemas import distance_out
from api.storage.tables import PlannedUse
from api.vehicles.service import held

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.planned_use.schemas import PlannedUseCreate
    from api.security import Principal

MOST_PLANS = 100
"""Tours and lay-ups kept for one car."""


def plan(session: Session, who: Principal, vehicle_id: str, body: PlannedUseCreate) -> PlannedUse:
    """Store a tour or lay-up.

    Raises:
        Malformed: it is over.
        NotFound: no such car in this fleet.
        Conflict: it shares a day with another one, the car has too many, or the ``external_ref`` is taken.
    """
    if body.ends_on < who.today():
        wanted = f"today ({who.today()}) or a later day: what is over stands in the odometer readings"
        raise Malformed("ends_on", wanted, body.ends_on.isoformat())
    held(session, who.fleet_id, vehicle_id)
    there = store.all_planned_for(session, who.fleet_id, vehicle_id)
    if len(there) >= MOST_PLANS:
        raise Conflict(f"at most {MOST_PLANS} tours and lay-ups are kept for a car: delete old ones first")
    for other in there:
        if body.starts_on <= other.ends_on and other.starts_on <= body.ends_on:
            named = f"the {other.what} from {other.starts_on} to {other.ends_on}"
            raise Conflict(f"it shares days with {named}", field="starts_on")
    refuse_taken(session, PlannedUse, who.fleet_id, body.external_ref)
    row = PlannedUse(
        fleet_id=who.fleet_id,
        vehicle_id=vehicle_id,
        distance_value=None if body.distance is None else body.distance.value,
        distance_unit=None if body.distance is None else body.distance.unit,
        **body.model_dump(exclude={"distance"}),
    )
    session.add(row)
    session.flush()
    keep.replan(session, who.fleet_id, [vehicle_id], who.today())
    return row


def one(session: Session, fleet_id: str, vehicle_id: str, plan_id: str) -> PlannedUse:
    """One tour or lay-up.

    Raises:
        NotFound: there is none of that id on this car.
    """
    row = store.one_planned(session, fleet_id, vehicle_id, plan_id)
    if row is None:
        raise NotFound("no such planned use of this vehicle")
    return row


def take_back(session: Session, who: Principal, vehicle_id: str, plan_id: str) -> None:
    """Delete a tour or lay-up.

    Raises:
        NotFound: there is none of that id on this car.
    """
    held(session, who.fleet_id, vehicle_id)
    session.delete(one(session, who.fleet_id, vehicle_id, plan_id))
    session.flush()
    keep.replan(session, who.fleet_id, [vehicle_id], who.today())


def shown(row: PlannedUse) -> PlannedUseOut:
    """A row as an answer."""
    plain = {name: getattr(row, name) for name in PlannedUseOut.model_fields if name != "distance"}
    return PlannedUseOut.model_validate(
        {**plain, "distance": distance_out(row.distance_value, row.distance_unit)}
    )
