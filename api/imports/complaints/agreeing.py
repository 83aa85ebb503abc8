"""Removals of a file judged beside all others against the same complaint, by the rule of the JSON route, in the file's order."""

from __future__ import annotations

from datetime import date
from itertools import islice
from typing import TYPE_CHECKING, Any

from api.history.shared_events import contradiction
from api.imports.complaints import store
from api.imports.shapes import Fault
from api.problems import shown

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from sqlmodel import Session

    from api.history.shared_events import Renewed
    from api.imports.complaints.store import Change
    from api.storage.tables import BulkImport

NAMES_AT_ONCE = 500
"""Complaints judged together: few enough for one query."""


def named(session: Session, row: BulkImport) -> list[list[str]]:
    """The complaints that the file's removals name, some at a time."""
    changes = store.changes(session, row)
    names = store.names_staged(session, row)
    names |= {name for change in changes.values() if (name := change.columns.get("shared_event")) is not None}
    for some in _some(sorted(changes)):
        names |= store.names_of(session, row, some)
    return list(_some(sorted(names)))


def contradictions(session: Session, row: BulkImport, names: Collection[str]) -> list[Fault]:
    """What is wrong with rows of the file that name these complaints; what is stored is right."""
    changes = store.changes(session, row)
    renamed = [one for one, change in changes.items() if change.columns.get("shared_event") in names]
    stored = store.renewed(session, row, names, renamed)
    kept: dict[str, list[Renewed]] = {}
    rows: list[tuple[int, Renewed]] = []
    for removal_id, was in stored.items():
        number, one = _as_the_file_says(row, removal_id, was, changes.get(removal_id))
        if one.shared_event in names:
            rows.append((number, one))
    faults = []
    for number, one in sorted(rows, key=lambda found: found[0]):
        others = kept.setdefault(one.shared_event or "", [])
        wrong = contradiction(others, one) if number else None
        if wrong is None:
            others.append(one)
        else:
            faults.append(Fault(number, wrong.field, wrong.wanted, shown(wrong.got)))
    return faults


def _as_the_file_says(
    row: BulkImport, removal_id: str, was: Renewed, change: Change | None
) -> tuple[int, Renewed]:
    """The number of the row that says so, 0 where none does, and what the removal will be."""
    if change is not None:
        said: dict[str, Any] = {
            name: date.fromisoformat(value) if name in store.DAYS else value
            for name, value in change.columns.items()
            if name in store.WEIGHED
        }
        return change.row_number, was._replace(**said)
    return int(removal_id[-8:], 16) if removal_id.startswith(row.block) else 0, was


def _some(names: list[str]) -> Iterator[list[str]]:
    left = iter(names)
    while some := list(islice(left, NAMES_AT_ONCE)):
        yield some
