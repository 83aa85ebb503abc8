"""A part's page: its two clocks against its life curve, why it is due, what happened to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.store import forecasts
from api.history.answers import fitment_out
from api.history.lookups import found_fitment
from api.pages.car_page import history, part_name
from api.schedules import answers
from api.vehicles.service import found
from planner.catalogue import load_catalogue
from planner.figures import OwnPath, Picture, life_curve
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Fitment
    from planner.units import DistanceUnit


def content(session: Session, who: Principal, fitment_id: str, as_of: date) -> dict[str, Any]:
    """What the page shows.

    Raises:
        NotFound: no such fitment in this fleet.
    """
    fitment = found_fitment(session, who.fleet_id, fitment_id)
    car = found(session, who.fleet_id, fitment.vehicle_id)
    kind = load_catalogue()[fitment.kind]
    seen = _outlook(session, fitment, as_of)
    lines = [line for line in history(session, who.fleet_id, car.id) if line.fitment_id == fitment.id]
    items = [] if seen is None else answers.items(session, who, [seen.row], as_of)
    return {
        "car": car,
        "kind": kind,
        "fitment": fitment_out(fitment),
        "name": part_name(kind.name_gb, fitment.position),
        "as_of": as_of,
        "item": items[0] if items else None,
        "wears": () if seen is None else seen.stored.life.clocks,
        "cautions": answers.cautions_of(kind),
        "lines": lines,
        "removal": next((line for line in lines if line.what == "removed"), None),
        "picture": None if seen is None else _picture(seen, as_of, cast("DistanceUnit", car.distance_unit)),
    }


def picture(session: Session, who: Principal, fitment_id: str, as_of: date) -> Picture | None:
    """The life curve of the part's kind along this part's own path; None for a part that has come off."""
    fitment = found_fitment(session, who.fleet_id, fitment_id)
    car = found(session, who.fleet_id, fitment.vehicle_id)
    seen = _outlook(session, fitment, as_of)
    return None if seen is None else _picture(seen, as_of, cast("DistanceUnit", car.distance_unit))


def _outlook(session: Session, fitment: Fitment, as_of: date) -> Outlook | None:
    row = forecasts(session, fitment.fleet_id, [fitment.vehicle_id]).get(fitment.id)
    return None if row is None else outlooks(session, [row], as_of)[0]


def _picture(seen: Outlook, as_of: date, unit: DistanceUnit) -> Picture | None:
    """None where the car is not driven at all and only distance would wear the part."""
    rate = seen.kept.km_per_year
    if rate <= 0 and seen.stored.life.distance is not None:
        return None
    opens, closes = seen.row.due_earliest, seen.row.due_latest
    window = None
    if opens is not None and closes is not None and seen.kept.since.found_bad is None:
        ends = [seen.years + (day - as_of).days / DAYS_PER_YEAR for day in (opens, closes)]
        window = (max(ends[0], 0.0), max(ends[1], 0.0))
    return life_curve(seen.stored.life, km_per_year=rate, own=OwnPath(seen.km, seen.years, window), unit=unit)
