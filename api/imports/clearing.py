"""What an import leaves when it is not shown: staged rows, notes and pieces of the file, deleted in short transactions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.imports import store
from api.imports.fields import kinds
from api.imports.staged import store as staged
from api.jobs.registry import Superseded
from planner.progress import silent

if TYPE_CHECKING:
    from api.jobs import Sessions
    from api.storage.tables import BulkImport
    from planner.progress import Progress


def clear(sessions: Sessions, row: BulkImport, progress: Progress = silent) -> BulkImport:
    """Delete everything that the import staged, and end it as its report says."""
    kind, gone, more = kinds()[row.kind], 0, True
    while more:
        with sessions() as session:
            more = bool(some := staged.drop_some(session, row, kind))
        gone += some
        progress(min(gone, row.rows_new), row.rows_new, "taking back what was staged")
    clear_file(sessions, row)
    drop_notes(sessions, row)
    return _ended(sessions, row, phase=row.report.get("ends", "refused"), hidden=False)


def clear_file(sessions: Sessions, row: BulkImport) -> None:
    """Delete the pieces of the file."""
    while True:
        with sessions() as session:
            if not store.drop_parts(session, row):
                return


def drop_notes(sessions: Sessions, row: BulkImport) -> None:
    """Delete the notes about stored records and about cars that others changed."""
    while True:
        with sessions() as session:
            if not staged.drop_matches(session, row):
                store.forget_touched(session, row, store.touched(session, row))
                return


def clear_left_behind(sessions: Sessions, fleet_id: str) -> None:
    """Clear up after imports whose job ended without doing so: cancelled while it waited, or failed with the database."""
    with sessions.reading() as session:
        left = store.left_behind(session, fleet_id)
    for row in left:
        clear(sessions, row)


def _ended(sessions: Sessions, row: BulkImport, **values: Any) -> BulkImport:
    with sessions() as session:
        if not store.advance(session, store.current(session, row), **values):
            raise Superseded
        return store.current(session, row)
