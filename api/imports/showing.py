"""The one change of state that shows an import, and what changes with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api import jobs
from api.imports import looking, store
from api.imports.fields import kinds
from api.imports.staged import store as staged
from api.jobs.registry import Superseded
from api.problems import Malformed
from api.storage import dialect
from api.storage.hidden import history_key
from api.storage.types import utc_now

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.imports.fields import Kind
    from api.jobs import Sessions
    from api.storage.tables import BulkImport
    from planner.progress import Progress

REFRESH = "import refresh"
"""The kind of job that brings forecasts up to date after an import."""

MOST_CHANGES = 20_000
"""Stored records that one import may change in its last transaction, so that it stays under a second."""

_CARS_AT_ONCE = 20


def show(sessions: Sessions, row: BulkImport, progress: Progress) -> BulkImport:
    """Show everything that is staged, at once; or give the import back as "checking" where rows have turned bad.

    Raises:
        Malformed: more stored records would change at once than one transaction may.
    """
    kind = kinds()[row.kind]
    row = _changes_beforehand(sessions, row, kind, progress)
    while True:
        with sessions() as session:
            dialect.wait_for_turn(session, history_key(row.fleet_id))
            row = store.current(session, row)
            touched = store.touched(session, row)[:_CARS_AT_ONCE]
            if not touched:
                return _show_now(session, row, kind)
            faults = looking.look_again(session, row, kind, touched)
            store.forget_touched(session, row, touched)
            if faults:
                row = looking.take_out(session, row, kind, faults)
        if faults and row.options["bad_rows"] == "refuse all":
            return row


def _changes_beforehand(sessions: Sessions, row: BulkImport, kind: Kind, progress: Progress) -> BulkImport:
    """What is left to change must fit into one transaction: more is refused, or changed before where rows may be skipped."""
    while True:
        with sessions() as session:
            count = staged.count_changes(session, row, kind)
            if count <= MOST_CHANGES:
                return row
            if row.options["bad_rows"] == "refuse all":
                wanted = f"at most {MOST_CHANGES:,} stored records changed by one file (or bad_rows: skip, or a smaller file)"
                raise Malformed("content", wanted, f"{count:,}")
            staged.apply_changes(session, row, kind, MOST_CHANGES // 4)
        progress(0, 0, "changing stored records")


def _show_now(session: Session, row: BulkImport, kind: Kind) -> BulkImport:
    staged.apply_changes(session, row, kind, MOST_CHANGES)
    refresh = jobs.enqueue(session, row.fleet_id, kind=REFRESH, payload={"import_id": row.id})
    if not store.advance(
        session, row, phase="shown", hidden=False, shown_at=utc_now(), refresh_job_id=refresh.id
    ):
        raise Superseded
    return store.current(session, row)
