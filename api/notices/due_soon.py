"""Parts that came to be due soon, and parts that are no longer: what is due now is compared with what was told last.

The comparison is made in the transaction that changes a car, after a model's or the terms' change, and once a day; it
tells each change once, whichever of them comes first. It is made only while somebody wants to be told.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from api.fleets.today import today_of
from api.notices import store
from api.schedules import no_driving
from api.storage import dialect
from api.webhooks import outbox

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

    from api.jobs import Sessions
    from api.notices.store import Due, Told

WITHIN_DAYS = 90
"""How many days ahead count as soon, as in the list of what is due soon where nothing else is asked."""

PARTS_IN_ONE_EVENT = 200
KINDS = {"due_soon.entered", "due_soon.left"}


def compare(session: Session, fleet_id: str, today: date, vehicle_ids: Collection[str] | None = None) -> bool:
    """Tell what came to be due soon and what is no longer, in the caller's transaction.

    Args:
        session: a session that writes.
        fleet_id: whose parts.
        today: the day in the fleet's zone.
        vehicle_ids: only of these cars; None: of all.

    Returns:
        Whether there may be more to tell.
    """
    if not KINDS & outbox.wanted(session, fleet_id):
        return False
    dialect.wait_for_turn(session, f"due soon {fleet_id}")
    last = today + timedelta(days=WITHIN_DAYS)
    came = store.entered(session, fleet_id, last, vehicle_ids, PARTS_IN_ONE_EVENT)
    went = store.left(session, fleet_id, last, vehicle_ids, PARTS_IN_ONE_EVENT)
    said = {"as_of": today.isoformat(), "within_days": WITHIN_DAYS}
    if came:
        store.note_told(session, came)
        forbidden = no_driving.by_car(session, fleet_id, {part.vehicle.id for part in came})
        parts = [_entered(part, today, forbidden.get(part.vehicle.id)) for part in came]
        outbox.tell(session, fleet_id, "due_soon.entered", {**said, "parts": parts})
    if went:
        store.note_left(session, went)
        outbox.tell(session, fleet_id, "due_soon.left", {**said, "parts": [_left(part) for part in went]})
    return PARTS_IN_ONE_EVENT in (len(came), len(went))


def compare_fleet(sessions: Sessions, fleet_id: str, today: date | None = None) -> None:
    """Tell what changed in a whole fleet, some parts a transaction; today is the fleet's own where none is given."""
    more = True
    while more:
        with sessions() as session:
            more = compare(session, fleet_id, today or today_of(session, fleet_id))


def begin(session: Session, fleet_id: str) -> None:
    """Somebody wants to be told from now on: what is due soon already is not news."""
    dialect.wait_for_turn(session, f"due soon {fleet_id}")
    last = today_of(session, fleet_id) + timedelta(days=WITHIN_DAYS)
    store.take_as_told(session, fleet_id, last)


def _entered(part: Due, today: date, forbidden: str | None) -> dict[str, Any]:
    """A part as it came to be due; days that have passed are shown as today, as in the list of what is due."""
    forecast, fitment, vehicle = part
    return {
        "do_not_drive": forbidden,
        "vehicle_id": vehicle.id,
        "vehicle_name": vehicle.name,
        "vehicle_external_ref": vehicle.external_ref,
        "fitment_id": fitment.id,
        "fitment_external_ref": fitment.external_ref,
        "kind": fitment.kind,
        "position": fitment.position or None,
        "due_earliest": _day(forecast.due_earliest, today),
        "due_likely": _day(forecast.due_likely, today),
        "due_latest": _day(forecast.due_latest, today),
        "decides": forecast.decides,
    }


def _left(part: Told) -> dict[str, Any]:
    row, forecast = part
    if forecast is None:
        because = "no longer in service"
    else:
        because = "run to failure" if forecast.due_likely is None else "due later"
    return {
        "vehicle_id": row.vehicle_id,
        "vehicle_name": row.vehicle_name,
        "vehicle_external_ref": row.vehicle_external_ref,
        "fitment_id": row.id,
        "fitment_external_ref": row.fitment_external_ref,
        "kind": row.kind,
        "position": row.position or None,
        "because": because,
        "due_likely": None if forecast is None else _day(forecast.due_likely),
    }


def _day(day: date | None, at_least: date = date.min) -> str | None:
    return None if day is None else max(day, at_least).isoformat()
