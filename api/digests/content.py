"""What a fleet's digest says on a day; the work grows with what is due, not with what is owned."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from api.digests import store
from api.digests.schemas import DigestContent
from api.pages.rendering import day
from api.risks.service import Ahead, vehicle_risk
from api.schedules import answers, no_driving
from api.schedules.store import vehicles
from planner.catalogue import load_catalogue
from planner.risk import shelf_warning

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.schedules.schemas import DueItem
    from api.security import Principal
    from api.storage.tables import Fitment, Vehicle

A_WEEK = timedelta(days=7)
SOON = timedelta(days=28)
ORDER_AHEAD = timedelta(days=56)
DELIVERY = timedelta(days=14)
"""From order to delivery, as parts to order count it unless told otherwise (common practice, no source)."""
READ_WITHIN = timedelta(days=90)
A_MONTH_DAYS = 30
WEEKS_SHOWN = 26
MOST_NAMED = 100
MOST_CARS = 200

NOTES = (
    "An estimate from what is on record: parts that nobody wrote down are not in it.",
    "It is no inspection, and it never postpones a limit of maker or authority.",
    (
        "Parts to order are those of the plan, each entry on record counted once: an axle's pads, tyres or dampers and an "
        "engine's plugs or leads are one where they were written down as one. How many to hold against failures stands at "
        "/v1/parts-to-order."
    ),
)


NOT_ALL = "Odometers and chances of a stop are told of the cars with the most urgent work; the others were not weighed."


def week_of(day: date) -> str:
    """The ISO 8601 week of a day: "2026-W48"."""
    year, week, _ = day.isocalendar()
    return f"{year:04d}-W{week:02d}"


def content(session: Session, who: Principal, as_of: date) -> DigestContent:
    """The digest of the week that a day lies in, seen from that day.

    Args:
        session: any session; it only reads.
        who: whose fleet.
        as_of: the day where the fleet is.
    """
    since, soon_until = as_of - A_WEEK, as_of + SOON
    spans = {
        "became_due": (since, as_of),
        "still_due": (None, since),
        "due_soon": (as_of, soon_until),
    }
    parts = {name: _parts(session, who, as_of, span) for name, span in spans.items()}
    cars = _cars(session, who.fleet_id, [one for found in parts.values() for one in found["items"]])
    forbidden = no_driving.forbidden(session, who.fleet_id)
    left_out = store.count_vehicles(session, who.fleet_id) - len(cars)
    return DigestContent.model_validate(
        {
            "do_not_drive": forbidden,
            "week": week_of(as_of),
            "as_of": as_of,
            "since": since,
            "soon_until": soon_until,
            **parts,
            "done": _done(session, who.fleet_id, since, as_of),
            "accepted": _accepted(session, who, as_of),
            "unread_odometers": _unread(session, who.fleet_id, cars, as_of - READ_WITHIN),
            "cars": _stops(session, cars, as_of, who.currency),
            "cars_left_out": left_out,
            "to_order": _to_order(session, who, as_of),
            "weeks": _weeks(session, who.fleet_id, as_of),
            "notes": [*no_driving.more(forbidden), *NOTES, *([NOT_ALL] if left_out else [])],
        }
    )


def _parts(session: Session, who: Principal, as_of: date, span: tuple[date | None, date]) -> dict[str, Any]:
    counts, rows = store.due(session, who.fleet_id, *span, MOST_NAMED)
    return {
        "count": sum(counts.values()),
        "safety": sum(count for kind, count in counts.items() if load_catalogue()[kind].safety),
        "items": [_part(one, as_of) for one in answers.items(session, who, rows, as_of)],
    }


def _part(item: DueItem, as_of: date) -> dict[str, Any]:
    shown = item.model_dump(
        include={
            "fitment_id", "vehicle_id", "vehicle_name", "kind", "part", "position", "window", "status", "decides",
            "reason", "put_off", "safety", "cautions", "chance_of",
        }
    )  # fmt: skip
    chance = item.chance_to_window_end
    told = " year" in chance.words or chance.until <= as_of
    by = "" if told else f" by {day(chance.until)}"
    return {**shown, "clocks": item.clocks.words, "chance": f"{chance.words}{by}"}


def _cars(session: Session, fleet_id: str, named: Sequence[dict[str, Any]]) -> list[Vehicle]:
    """All cars of a small fleet; of a large one those with work named, the most urgent first."""
    first = store.some_vehicles(session, fleet_id, MOST_CARS + 1)
    if len(first) <= MOST_CARS:
        return first
    ids = list(dict.fromkeys(one["vehicle_id"] for one in named))[:MOST_CARS]
    found = vehicles(session, fleet_id, ids)
    return [found[one] for one in ids]


def _done(session: Session, fleet_id: str, since: date, as_of: date) -> list[dict[str, Any]]:
    off = store.removed(session, fleet_id, since, as_of, MOST_NAMED)
    worked = store.repaired(session, fleet_id, since, as_of, MOST_NAMED)
    found = [
        {**_named(fitment, car), "done_on": row.removed_likely, "what": "came off", "how": row.reason}
        for row, fitment, car in off
    ] + [
        {**_named(fitment, car), "done_on": row.repaired_on, "what": "worked on", "how": row.action}
        for row, fitment, car in worked
    ]
    return sorted(found, key=lambda one: (one["done_on"], one["fitment_id"]))


def _named(fitment: Fitment, car: Vehicle) -> dict[str, Any]:
    return {
        "fitment_id": fitment.id,
        "vehicle_id": car.id,
        "vehicle_name": car.name,
        "part": load_catalogue()[fitment.kind].name_gb,
        "position": fitment.position or None,
    }


def _accepted(session: Session, who: Principal, as_of: date) -> list[dict[str, Any]]:
    rows = store.decisions(session, who.fleet_id, MOST_NAMED)
    parts = store.forecasts(session, who.fleet_id, [fitment.id for _, fitment, _ in rows])
    warnings = {
        item.fitment_id: item.put_off.warning
        for item in answers.items(session, who, parts, as_of)
        if item.put_off is not None
    }
    return [
        {
            **_named(fitment, car),
            "until": row.until,
            "reason": row.reason,
            "decided_on": row.decided_on,
            "warning": warnings.get(fitment.id),
            **answers.minded(load_catalogue()[fitment.kind]),
        }
        for row, fitment, car in rows
    ]


def _unread(session: Session, fleet_id: str, cars: Sequence[Vehicle], before: date) -> list[dict[str, Any]]:
    """Cars not read since a day, the longest first."""
    last = store.last_readings(session, fleet_id, [car.id for car in cars])
    found = [
        {"vehicle_id": car.id, "vehicle_name": car.name, "last_read_on": last.get(car.id)}
        for car in cars
        if car.id not in last or last[car.id] < before
    ]
    return sorted(found, key=lambda one: (one["last_read_on"] or date.min, one["vehicle_id"]))


def _stops(session: Session, cars: Sequence[Vehicle], as_of: date, currency: str) -> list[dict[str, Any]]:
    ahead = Ahead(as_of, A_MONTH_DAYS, None, None)
    found = [
        {
            "vehicle_id": car.id,
            "vehicle_name": car.name,
            "stop": vehicle_risk(session, car, ahead, currency).stop,
        }
        for car in cars
    ]
    return sorted(found, key=lambda one: (-one["stop"].mean, -one["stop"].high, one["vehicle_id"]))


def _planned(session: Session, who: Principal, as_of: date) -> list[tuple[str, int, date]]:
    """(kind, number, first day): a part put off counts on its new day, a declined one not at all, one found bad now."""
    last = as_of + ORDER_AHEAD
    counts = {kind: (count, first) for kind, count, first in store.wanted(session, who.fleet_id, last)}
    for item in answers.items(session, who, store.put_off(session, who.fleet_id, last), as_of):
        declined = item.put_off is not None and item.put_off.until is None
        when = as_of if item.decides == "inspection" else None if declined else item.window.likely
        if when is not None and when <= last:
            count, first = counts.get(item.kind, (0, when))
            counts[item.kind] = (count + 1, min(first, when))
    return [(kind, *found) for kind, found in counts.items()]


def _to_order(session: Session, who: Principal, as_of: date) -> list[dict[str, Any]]:
    """Kinds in the order of first need; what is overdue is needed now."""
    found = [
        {
            "kind": kind,
            "part": load_catalogue()[kind].name_gb,
            "planned": count,
            "needed_by": max(first, as_of),
            "order_by": max(max(first, as_of) - DELIVERY, as_of),
            "late": max(first, as_of) - DELIVERY < as_of,
            "shelf": shelf_warning(kind) or None,
            **answers.minded(load_catalogue()[kind]),
        }
        for kind, count, first in _planned(session, who, as_of)
    ]
    return sorted(found, key=lambda one: (one["needed_by"], one["kind"]))


def _weeks(session: Session, fleet_id: str, as_of: date) -> dict[str, Any]:
    first = as_of - timedelta(days=as_of.weekday())
    by_day = store.due_by_day(session, fleet_id, first + WEEKS_SHOWN * A_WEEK - timedelta(days=1))
    counts = [0] * WEEKS_SHOWN
    for when, number in by_day:
        if when > as_of:
            counts[(when - first).days // 7] += number
    return {"first": first, "due_before": sum(n for when, n in by_day if when <= as_of), "counts": counts}
