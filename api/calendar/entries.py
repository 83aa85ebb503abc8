"""What stands in a calendar: one entry per part, on its likely day, cancelled for a while once it is off the car.

An entry's revision is the moment of the latest change behind it. ``SEQUENCE`` counts the seconds from the fitment's
creation to that moment, so it starts near 0 and never falls; an overdue part's entry moves with today, and its
revision with it. Nothing here depends on the moment of asking but the day.

Source: RFC 5545 §3.6.1 (events), §3.8.7.4 (SEQUENCE).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from api.calendar import store
from api.schedules import answers
from api.schedules import store as schedules
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlmodel import Session

    from api.schedules.schemas import DueItem
    from api.security import Principal
    from api.storage.tables import Fitment, Forecast, PutOff, Removal, Vehicle

AHEAD = timedelta(days=730)
CANCELLED_FOR = timedelta(days=60)
MOST_ENTRIES = 2_000

ESTIMATE = "An estimate from records, no inspection; it never postpones a limit of maker or authority."


@dataclass(frozen=True)
class Entry:
    """One part in a calendar.

    Attributes:
        uid: the same as long as the part is on record.
        day: the all-day event's day.
        summary, description: what it shows.
        sequence: number of the revision, never falling.
        revised_at: moment of the latest change behind it.
        created_at: when the fitment was written down.
        cancelled: there is nothing to do any more.
    """

    uid: str
    day: date
    summary: str
    description: str
    sequence: int
    revised_at: datetime
    created_at: datetime
    cancelled: bool


@dataclass(frozen=True)
class _Behind:
    """Moments behind revisions: the day's beginning, and the latest change of a fault-finding, by car."""

    morning: datetime
    cases: Mapping[str, datetime]


def entries(session: Session, who: Principal, vehicle_id: str | None, as_of: date) -> list[Entry]:
    """The entries of a fleet's or one car's calendar; the most urgent first, cancelled ones last.

    Args:
        session: any session; it only reads.
        who: whose fleet.
        vehicle_id: only this car; None: the whole fleet.
        as_of: the day it is where the fleet is.
    """
    chosen = schedules.due_until(who.fleet_id, as_of + AHEAD, vehicle_id).limit(MOST_ENTRIES)
    rows = list(session.exec(chosen))
    ids = [row.fitment_id for row in rows]
    fitments = store.fitments(session, who.fleet_id, ids)
    decisions = store.decisions(session, who.fleet_id, ids)
    morning = datetime.combine(as_of, time(), ZoneInfo(who.time_zone)).astimezone(UTC)
    cars = {row.vehicle_id for row in rows}
    behind = _Behind(morning, store.cases_changed(session, who.fleet_id, cars))
    due = [
        _due(item, row, fitments[row.fitment_id], decisions.get(row.fitment_id), behind)
        for item, row in zip(answers.items(session, who, rows, as_of), rows, strict=True)
    ]
    left = store.removed_since(session, who.fleet_id, as_of - CANCELLED_FOR, vehicle_id, MOST_ENTRIES)
    return [*due, *(_removed(*one) for one in left)]


def _due(item: DueItem, row: Forecast, fitment: Fitment, decision: PutOff | None, behind: _Behind) -> Entry:
    declined = decision is not None and decision.until is None and not _binding(item)
    day = item.window.likely or row.due_likely or row.as_of
    changes = [row.updated_at, behind.cases.get(row.vehicle_id, row.updated_at)]
    changes += [] if decision is None else [decision.updated_at]
    if not declined and item.status == "due now":
        changes.append(behind.morning)
    forbidden = [] if item.do_not_drive is None else [item.do_not_drive]
    about = [*forbidden, _window(item), item.reason, *_decision(item), *item.cautions, ESTIMATE]
    return _entry(fitment, max(changes), day, (item.part, item.vehicle_name), about, cancelled=declined)


def _binding(item: DueItem) -> bool:
    """Whether a limit, or what was found, stands in the way of the keeper's decision."""
    return item.put_off is not None and item.put_off.warning is not None


def _removed(removal: Removal, fitment: Fitment, vehicle: Vehicle) -> Entry:
    part = load_catalogue()[fitment.kind].name_gb
    about = [f"The part came off on {removal.removed_on}: {removal.reason}."]
    changed = max(removal.updated_at, fitment.updated_at)
    return _entry(fitment, changed, removal.removed_likely, (part, vehicle.name), about, cancelled=True)


def _entry(
    fitment: Fitment,
    changed: datetime,
    day: date,
    names: tuple[str, str],
    about: list[str],
    *,
    cancelled: bool,
) -> Entry:
    part, car = names
    created = fitment.created_at.replace(microsecond=0)
    revised = max(changed.replace(microsecond=0), created)
    where = f", {fitment.position}" if fitment.position else ""
    return Entry(
        uid=f"{fitment.id}@fitments.wearwright",
        day=day,
        summary=f"{car}: {'nothing to do, ' if cancelled else 'renew '}{part}{where}",
        description="\n\n".join(about),
        sequence=int((revised - created).total_seconds()),
        revised_at=revised,
        created_at=created,
        cancelled=cancelled,
    )


def _window(item: DueItem) -> str:
    window = item.window
    limit = f" Hard limit: {window.limit.isoformat()}." if window.limit is not None else ""
    if window.likely is None:
        return f"No date: run to failure.{limit}"
    closes = None if window.latest is None else window.latest.isoformat()
    if item.status != "due now":
        opens = (window.earliest or window.likely).isoformat()
        until = f"to {closes}" if closes else "without an end"
        return f"Window: {opens} {until}; the event stands on its likely day.{limit}"
    if window.latest is not None and window.latest <= window.likely:
        return f"Due now; the window has closed, so the event stands on today.{limit}"
    until = f"until {closes}" if closes else "without an end"
    return f"Due now; the window is open {until}, and the event stands on today.{limit}"


def _decision(item: DueItem) -> list[str]:
    if item.put_off is None:
        return []
    return [text for text in (item.put_off.accepted, item.put_off.warning) if text]
