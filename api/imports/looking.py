"""Staged records looked at together with all others of their cars: what contradicts them is taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.bridge import agreement
from api.fleets.today import today_of
from api.history.service import field_at_fault
from api.imports import store
from api.imports.complaints import agreeing
from api.imports.complaints import store as complaints
from api.imports.fields import kinds
from api.imports.shapes import Fault
from api.imports.staged import store as staged
from api.jobs.registry import Superseded
from api.problems import shown
from api.storage import dialect
from api.storage.hidden import history_key, let_see

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from sqlmodel import Session

    from api.imports.fields import Kind
    from api.imports.rising import Rising
    from api.jobs import Sessions
    from api.storage.tables import BulkImport
    from planner.progress import Progress

CARS_AT_ONCE = 400
_BY_FIGURES = {"vehicles", "odometer-readings"}
"""Kinds whose new records can contradict others by an odometer's figure only."""
_BODY = {
    "odometer-readings": ("reading", ""),
    "fitments": ("fitted_on", "fitment"),
    "inspections": ("inspected_on", "inspections"),
    "repairs": ("repaired_on", "repairs"),
    "removals": ("removed_on", "removal"),
    "vehicles": ("built", "vehicle"),
}
"""The field of each body that a contradiction is named by, and the planner's name for such a record."""


def today(sessions: Sessions, row: BulkImport) -> date:
    """The day it is where the fleet is."""
    with sessions.reading() as session:
        return today_of(session, row.fleet_id)


def wait_for_writers(sessions: Sessions, row: BulkImport) -> None:
    """Wait until whoever began to change the fleet's records before this import was known has ended."""
    with sessions() as session:
        dialect.wait_for_turn(session, history_key(row.fleet_id))


def look_at_all(sessions: Sessions, row: BulkImport, rising: Rising, progress: Progress) -> BulkImport:
    """Look at every car that the file's records are of, but for those known to rise; the import as it is afterwards."""
    kind = kinds()[row.kind]
    seen, day = 0, today(sessions, row)
    with sessions.reading() as walking:
        for ids in staged.cars_of(walking, row, kind, CARS_AT_ONCE):
            with sessions.reading() as session:
                faults = contradictions(session, row, kind, ids, day, rising)
            if faults:
                with sessions() as session:
                    row = take_out(session, row, kind, faults)
            seen += len(ids)
            progress(seen, 0, "cars looked at")
    return _look_at_complaints(sessions, row, kind) if kind.name == "removals" else row


def _look_at_complaints(sessions: Sessions, row: BulkImport, kind: Kind) -> BulkImport:
    """Look at every complaint that the file's removals name; the import as it is afterwards."""
    with sessions.reading() as session:
        named = agreeing.named(session, row)
    for names in named:
        with sessions.reading() as session:
            faults = agreeing.contradictions(session, row, names)
        if faults:
            with sessions() as session:
                row = take_out(session, row, kind, faults)
    return row


def look_again(session: Session, row: BulkImport, kind: Kind, ids: list[str]) -> list[Fault]:
    """What is wrong with records of the file, since somebody else changed these cars."""
    faults = contradictions(session, row, kind, ids, today_of(session, row.fleet_id))
    if kind.name == "removals":
        names = complaints.names_on(session, row, ids)
        faults += agreeing.contradictions(session, row, names)
    return faults


def contradictions(
    session: Session,
    row: BulkImport,
    kind: Kind,
    ids: list[str],
    day: date,
    rising: Rising | None = None,
) -> list[Fault]:
    """What is wrong with records of the file, seen beside all others of some cars."""
    let_see(session, row.block)
    changes = staged.changes_of(session, row, kind, ids)
    doubtful = set(ids)
    if kind.name in _BY_FIGURES:
        asked = ids if rising is None else rising.without(ids)
        doubtful = agreement.not_plainly_rising(session, row.fleet_id, asked) if asked else set()
        doubtful |= {change.vehicle_id for change in changes}
    if not doubtful:
        return []
    number = _numbering(row, {change.record_id: change.row_number for change in changes})
    found = agreement.contradictions(
        session,
        row.fleet_id,
        doubtful,
        day,
        number=number,
        changes={change.record_id: staged.typed(kind, change.columns) for change in changes},
    )
    return [_fault(kind, number(one.record_id) or 0, one.error) for one in found]


def take_out(session: Session, row: BulkImport, kind: Kind, faults: list[Fault]) -> BulkImport:
    """Take rows out of what is staged, and note why."""
    numbers = {fault.row for fault in faults}
    changed = staged.drop_records(session, row, kind, numbers)
    store.keep_faults(session, row, faults)
    counts = {
        "rows_new": row.rows_new - (len(numbers) - changed),
        "rows_changed": row.rows_changed - changed,
        "rows_bad": row.rows_bad + len(numbers),
    }
    if not store.advance(session, row, **counts):
        raise Superseded
    return store.current(session, row)


def _numbering(row: BulkImport, numbers: dict[str, int]) -> Callable[[str], int | None]:
    """The number of the row that staged a record, or that changes it."""

    def number(record_id: str) -> int | None:
        if record_id.startswith(row.block):
            return int(record_id[-8:], 16)
        return numbers.get(record_id)

    return number


def _fault(kind: Kind, number: int, error: Any) -> Fault:
    name = field_at_fault(error, *_BODY[kind.name])
    return Fault(number, name, error.wanted, shown(error.got, limit=200))
