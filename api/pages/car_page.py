"""A car's page: its parts with windows and clocks, the chance of a stop, its history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from api.bridge.in_force import models
from api.bridge.store import events
from api.faults.bans import bans
from api.faults.store import open_complaints
from api.history.answers import fitment_out, inspection_out, reading_out, removal_out, repair_out
from api.history.store import fitments_of, readings_of
from api.pages.rendering import day
from api.risks.service import Ahead, vehicle_risk
from api.schedules import answers, store
from api.storage.tables import Inspection, Removal, Repair
from api.vehicles.service import found
from planner.catalogue import circumstances_of_cars, load_catalogue
from planner.figures import Picture, TimelineRow, timeline
from planner.history.dial import hard_to_believe
from planner.units import DAYS_PER_YEAR, from_km

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.schedules.schemas import DueItem
    from api.security import Principal
    from api.storage.tables import Fitment, OdometerReading
    from planner.units import DistanceUnit

EVERYTHING = timedelta(days=100 * 365)
STOP_DAYS = 30
TIMELINE_YEARS = 6.0
LONGEST_HISTORY = 150


@dataclass(frozen=True)
class Line:
    """One line of a car's history.

    Attributes:
        when: the day as it was written; "" where nobody knows.
        sorts: the day that it is put in order by.
        what: what happened.
        row: the record, as the JSON shows it.
        part: the part, where it is about one.
        fitment_id: of the part.
        doubt: what speaks against it; "" where nothing does.
    """

    when: str
    sorts: date
    what: str
    row: Any
    part: str = ""
    fitment_id: str = ""
    doubt: str = ""


def content(session: Session, who: Principal, vehicle_id: str, as_of: date) -> dict[str, Any]:
    """What the page shows.

    Raises:
        NotFound: no such car in this fleet.
    """
    vehicle = found(session, who.fleet_id, vehicle_id)
    items = schedule(session, who, vehicle_id, as_of)
    usage = store.usage(session, who.fleet_id, [vehicle_id]).get(vehicle_id)
    lines = history(session, who.fleet_id, vehicle_id)
    return {
        "car": vehicle,
        "circumstances": [circumstances_of_cars()[name].name for name in vehicle.circumstances],
        "as_of": as_of,
        "items": items,
        "wears": wears(session, who, vehicle_id),
        "yearly": answers.yearly(usage, cast("DistanceUnit", vehicle.distance_unit)),
        "risk": vehicle_risk(session, vehicle, Ahead(as_of, STOP_DAYS, None, None), who.currency),
        "stop_days": STOP_DAYS,
        "bans": bans(session, who.fleet_id, [vehicle_id]),
        "complaints": open_complaints(session, who.fleet_id, [vehicle_id]),
        "lines": lines[:LONGEST_HISTORY],
        "left_out": max(0, len(lines) - LONGEST_HISTORY),
        "latest": next((line for line in lines if line.what == "odometer"), None),
        "picture": picture(items, as_of),
    }


def schedule(session: Session, who: Principal, vehicle_id: str, as_of: date) -> list[DueItem]:
    """Every part in service by its likely day; those run to failure stand last.

    Raises:
        NotFound: no such car in this fleet.
    """
    found(session, who.fleet_id, vehicle_id)
    rows = store.of_vehicle(session, who.fleet_id, vehicle_id, as_of + EVERYTHING)
    return answers.items(session, who, rows, as_of)


def wears(session: Session, who: Principal, vehicle_id: str) -> dict[str, tuple[str, ...]]:
    """Which clocks wear each part, as the life in force has it, by fitment."""
    rows = store.all_of_vehicle(session, who.fleet_id, vehicle_id)
    lives = models.stored(session, who.fleet_id, {row.model_id for row in rows if row.model_id is not None})
    found = ((row, lives.get(row.model_id or "") or models.book_of(row.kind)) for row in rows)
    return {row.fitment_id: one.life.clocks for row, one in found}


def picture(items: Sequence[DueItem], as_of: date) -> Picture:
    """The parts on a timeline."""
    rows = [
        TimelineRow(
            part_name(item.part, item.position), item.window.earliest, item.window.likely, item.window.latest,
            item.window.limit,
        )
        for item in items
    ]  # fmt: skip
    return timeline(rows, today=as_of, years=TIMELINE_YEARS)


def part_name(part: str, position: str | None) -> str:
    """A part as the pages call it."""
    return part if not position else f"{part}, {position}"


def history(session: Session, fleet_id: str, vehicle_id: str) -> list[Line]:
    """Everything on record about a car, the latest first; what nobody can date stands last."""
    fitments = {row.id: row for row in session.exec(fitments_of(fleet_id, vehicle_id))}
    lines = _readings(session.exec(readings_of(fleet_id, vehicle_id)).all())
    lines += [fitted(row) for row in fitments.values()]
    one = [vehicle_id]
    happened: list[Inspection | Repair | Removal] = [
        *events(session, Inspection, fleet_id, one),
        *events(session, Repair, fleet_id, one),
        *events(session, Removal, fleet_id, one),
    ]
    lines += [of_part(fitments[row.fitment_id], row) for row in happened]
    return sorted(lines, key=lambda line: line.sorts, reverse=True)


def _readings(rows: Sequence[OdometerReading]) -> list[Line]:
    """Readings as lines; one that is further from the one before than a car is driven says so."""
    return [
        Line(row.read_on.isoformat(), row.read_on, "odometer", reading_out(row), doubt=_doubt(before, row))
        for before, row in zip([None, *rows], rows, strict=False)
    ]


def _doubt(before: OdometerReading | None, row: OdometerReading) -> str:
    if before is None or row.new_instrument:
        return ""
    driven = row.km_total - before.km_total
    if not hard_to_believe(driven, (row.read_on - before.read_on).days / DAYS_PER_YEAR):
        return ""
    far = f"{from_km(driven, cast('DistanceUnit', row.reading_unit)):,.0f} {row.reading_unit}"
    since = day(before.read_on)
    return f"{far} since {since} is more than a car is driven: was a tenth read as a whole, or the wrong unit chosen?"


def fitted(row: Fitment) -> Line:
    """A fitment as a line of history."""
    sorts = row.fitted_likely or date.min
    return Line(row.fitted_on or "", sorts, "fitted", fitment_out(row), _named(row), row.id)


def of_part(fitment: Fitment, row: Inspection | Repair | Removal) -> Line:
    """What happened to a part afterwards, as a line of history."""
    name = _named(fitment)
    if isinstance(row, Removal):
        return Line(row.removed_on, row.removed_likely, "removed", removal_out(row), name, fitment.id)
    if isinstance(row, Repair):
        return Line(
            row.repaired_on.isoformat(), row.repaired_on, "repaired", repair_out(row), name, fitment.id
        )
    return Line(
        row.inspected_on.isoformat(), row.inspected_on, "inspected", inspection_out(row), name, fitment.id
    )


def _named(row: Fitment) -> str:
    return part_name(load_catalogue()[row.kind].name_gb, row.position)
