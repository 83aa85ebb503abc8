"""Rules for parts that move: what they have done goes with them, and both cars are planned anew."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from api.bridge import gather, keep
from api.bridge.records import fitment_record, removal_record
from api.external_refs import refuse_taken
from api.history.rows import days, inspection_row, odometer, removal_row
from api.history.schemas import InspectionCreate, RemovalCreate
from api.history.service import field_at_fault
from api.moved_parts import brought
from api.notices.watch import telling
from api.problems import Conflict, Malformed, NotFound
from api.storage.tables import Fitment
from api.vehicles.service import found, held
from planner.errors import RecordError
from planner.history.dates import UncertainDate
from planner.history.evidence import MOVED
from planner.units import from_km

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.gather import Car, Part
    from api.moved_parts.schemas import MovedPartsCreate, PartToMove
    from api.schemas import DistanceIn
    from api.security import Principal
    from planner.history.evidence import Reason


def move(
    session: Session, who: Principal, vehicle_id: str, body: MovedPartsCreate
) -> tuple[list[tuple[str, Fitment]], list[str]]:
    """Take parts off one car and fit them to another, with the distance and age that they have reached.

    Returns:
        The fitment that ended and the one that goes on, in the order named; and the fitments that came off to make room.

    Raises:
        NotFound: no such car in this fleet.
        Malformed: both cars are the same one, a fitment is named twice, or a day in the future.
        Conflict: a part is not on that car, cannot move as it is, its place is taken, or a day or figure contradicts
            other records. Nothing is stored then.
    """
    there, here = _both(session, who, vehicle_id, body)
    parts = [_movable(there, here, one, who.today()) for one in body.parts]
    others = _in_their_places(here, parts, body)
    today, cars = who.today(), [body.from_vehicle_id, vehicle_id]
    with telling(session, who.fleet_id, cars, today):
        with _conflicts("odometer_there"):
            off = removal_record(removal_row(who.fleet_id, "", _off(body, MOVED, body.odometer_there)))
            reached = brought.clocks_of(there, parts, off, today)
        _take_off(session, who, [part.row for part in parts], _off(body, MOVED, body.odometer_there))
        if body.in_their_places is not None:
            _take_off(session, who, others, _off(body, body.in_their_places, body.odometer))
        fitted = [
            _fit(session, who, here, part, clocks, f"moved from {there.row.name}", said, body)
            for part, clocks, said in zip(parts, reached, body.parts, strict=True)
        ]
        with _conflicts("odometer_there"):
            keep.replan(session, who.fleet_id, [body.from_vehicle_id], today)
        with _conflicts("odometer"):
            keep.replan(session, who.fleet_id, [vehicle_id], today)
    pairs = [(part.row.id, row) for part, row in zip(parts, fitted, strict=True)]
    return pairs, [row.id for row in others]


@contextmanager
def _conflicts(dial: str) -> Iterator[None]:
    """Turn a contradiction with a car's records into a conflict that names the day, or the figure of that car's dial."""
    try:
        yield
    except RecordError as error:
        field = field_at_fault(error, "moved_on", "removal")
        field = {"removed_on": "moved_on", "odometer": dial}.get(field, field)
        raise Conflict(f"{field}: wanted {error.wanted}, got {error.got}", field=field) from error


def _both(session: Session, who: Principal, vehicle_id: str, body: MovedPartsCreate) -> tuple[Car, Car]:
    """Both cars with their histories, held in one order whoever asks."""
    found(session, who.fleet_id, vehicle_id)
    if body.from_vehicle_id == vehicle_id:
        raise Malformed("from_vehicle_id", "another car than the one that they go into", vehicle_id)
    if body.moved_on > who.today():
        raise Malformed("moved_on", f"a day not after today, {who.today()}", body.moved_on)
    named = [one.fitment_id for one in body.parts]
    if len(set(named)) < len(named):
        raise Malformed("parts", "each fitment once", named)
    try:
        for one in sorted((vehicle_id, body.from_vehicle_id)):
            held(session, who.fleet_id, one)
    except NotFound:
        raise Conflict("from_vehicle_id: no such vehicle", field="from_vehicle_id") from None
    cars = gather.cars(session, who.fleet_id, [vehicle_id, body.from_vehicle_id])
    by_id = {car.row.id: car for car in cars}
    return by_id[body.from_vehicle_id], by_id[vehicle_id]


def _movable(there: Car, here: Car, said: PartToMove, today: date) -> Part:
    """One part on the car that can go on elsewhere as it is."""
    part = next((one for one in there.in_service if one.row.id == said.fitment_id), None)
    why: str | None = "it is not on that car"
    if part is not None:
        told = here.row.circumstances, there.row.circumstances
        why = brought.why_not(part, *told, today, measured=said.measurement is not None)
    if part is None or why is not None:
        raise Conflict(f"parts: {said.fitment_id} cannot be moved: {why}", field="parts")
    return part


def _in_their_places(car: Car, parts: Sequence[Part], body: MovedPartsCreate) -> list[Fitment]:
    """What is in the places now; it is taken off where a reason is given."""
    places = {(part.row.kind, part.row.position) for part in parts}
    others = [one.row for one in car.in_service if (one.row.kind, one.row.position) in places]
    if others and body.in_their_places is None:
        named = ", ".join(sorted({f"{row.kind} {row.position}".strip() for row in others}))
        wanted = f"why what is in their places came off ({named}), got nothing"
        raise Conflict(f"in_their_places: wanted {wanted}", field="in_their_places")
    return others


def _off(body: MovedPartsCreate, reason: Reason, odometer: DistanceIn | None) -> RemovalCreate:
    day = body.moved_on.isoformat()
    return RemovalCreate(removed_on=day, reason=reason, odometer=odometer, note=body.note)


def _take_off(session: Session, who: Principal, rows: Sequence[Fitment], said: RemovalCreate) -> None:
    for row in rows:
        row.in_service = False
        session.add(row)
        session.add(removal_row(who.fleet_id, row.id, said))
    session.flush()


def _fit(
    session: Session,
    who: Principal,
    car: Car,
    part: Part,
    clocks: brought.Clocks,
    note: str,
    said: PartToMove,
    body: MovedPartsCreate,
) -> Fitment:
    """The part on its new car, second-hand with what it has done."""
    unit: Any = car.row.distance_unit
    same = ("kind", "position", "grade", "made_on", "cap_value", "cap_unit", "cap_years")
    row = Fitment(
        fleet_id=who.fleet_id,
        vehicle_id=car.row.id,
        **{name: getattr(part.row, name) for name in same},
        fitted_on=body.moved_on.isoformat(),
        **days("fitted", UncertainDate.on(body.moved_on)),
        condition="second-hand",
        donor_value=None if clocks.km is None else round(from_km(clocks.km, unit), 1),
        donor_unit=None if clocks.km is None else unit,
        donor_years=None if clocks.years is None else round(clocks.years, 3),
        note=note if body.note is None else f"{note}; {body.note}"[:4_000],
        external_ref=said.external_ref,
        moved_from=part.row.id,
        **odometer(body.odometer),
    )
    fitment_record(row).refuse_future(who.today())
    refuse_taken(session, Fitment, who.fleet_id, said.external_ref)
    session.add(row)
    session.flush()
    if said.measurement is not None:
        look = InspectionCreate(
            inspected_on=body.moved_on, finding="good", odometer=body.odometer, measurement=said.measurement
        )
        session.add(inspection_row(who.fleet_id, row.id, look))
        session.flush()
    return row
