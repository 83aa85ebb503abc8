"""The job that takes a file in: rows staged unseen in short transactions, looked at together, shown by one change of state.

Each transaction writes how far the import is beside what it stages, under the condition that nobody else went on
meanwhile. So an attempt that was killed is gone on with where its last transaction ended, and of two attempts that
believe the job to be theirs one writes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.imports import clearing, looking, showing, store
from api.imports.rising import Rising
from api.imports.rows import Judge
from api.imports.shapes import Fault
from api.imports.source import Source
from api.imports.staging import Counts, Stager
from api.jobs import Cancelled
from api.jobs.registry import Superseded
from api.problems import Malformed, RowsRefused

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.jobs import Sessions
    from api.storage.tables import BulkImport, Job
    from planner.progress import Progress

_SHOWN_FAULTS = 20


def take_in(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Take in the file of one import.

    Args:
        sessions: transactions.
        job: whose fleet.
        payload: {"import_id": …}.
        progress: told how many rows are dealt with.

    Returns:
        {"import_id", "state", "rows": {"read", "new", "changed", "same", "bad"}, "refresh_job_id"}.

    Raises:
        Malformed: the file as a whole cannot be read.
        RowsRefused: a row is bad, and none was to be taken then.
    """
    clearing.clear_left_behind(sessions, job.fleet_id)
    row = _begun(sessions, job, payload["import_id"])
    rising = Rising(whole=row.rows_read == 0)
    try:
        if row.phase in {"queued", "reading"}:
            row = _read(sessions, row, rising, progress)
        if row.phase == "checking":
            row = looking.look_at_all(sessions, row, rising, progress)
            row = _decided(sessions, row, progress)
        if row.phase == "clearing":
            row = clearing.clear(sessions, row, progress)
    except Superseded:
        raise
    except Cancelled:
        clearing.clear(sessions, _to(sessions, row, "clearing", ends="cancelled"))
        raise
    except Exception as error:
        faults = error.errors if isinstance(error, Malformed) else []
        clearing.clear(sessions, _to(sessions, row, "clearing", faults, ends="refused"))
        raise
    return _result(sessions, row)


def _begun(sessions: Sessions, job: Job, import_id: str) -> BulkImport:
    """Make this attempt the one that may write."""
    with sessions() as session:
        row = store.found(session, job.fleet_id, import_id, hold=True)
        if row is None:
            raise Cancelled
        if row.attempt > job.attempt:
            raise Superseded
        row.attempt = job.attempt
        session.add(row)
        return row


def _to(
    sessions: Sessions, row: BulkImport, phase: str, faults: Sequence[dict[str, str]] = (), **report: Any
) -> BulkImport:
    """Go on to another phase; what is wrong with the file as a whole is kept as faults of row 0."""
    with sessions() as session:
        now = store.current(session, row)
        store.keep_faults(session, row, [Fault(0, one["field"], one["wanted"], one["got"]) for one in faults])
        if not store.advance(session, now, phase=phase, report={**now.report, **report}):
            raise Superseded
        return store.current(session, row)


def _read(sessions: Sessions, row: BulkImport, rising: Rising, progress: Progress) -> BulkImport:
    """Stage the file's rows, from where an earlier attempt ended."""
    file = Source(sessions, row)
    row = _to(sessions, row, "reading", **file.report)
    file.refuse_unknown()
    if row.rows_read == 0:
        looking.wait_for_writers(sessions, row)
    judge = Judge(file.kind, file.writing, looking.today(sessions, row))
    stager = Stager(row, file.kind, rising)
    for columns in file.columns(row.rows_read):
        judged = judge.judge(columns)
        with sessions() as session:
            counts = stager.stage(session, judged)
            row = _counted(session, row, counts, row.rows_read + len(columns.numbers))
        stager.row = row
        progress(row.rows_read, 0, "rows read")
    return _to(sessions, row, "checking")


def _counted(session: Any, row: BulkImport, counts: Counts, read: int) -> BulkImport:
    if not store.advance(
        session,
        row,
        rows_read=read,
        rows_new=row.rows_new + counts.new,
        rows_changed=row.rows_changed + counts.changed,
        rows_same=row.rows_same + counts.same,
        rows_bad=row.rows_bad + counts.bad,
    ):
        raise Superseded
    return store.current(session, row)


def _decided(sessions: Sessions, row: BulkImport, progress: Progress) -> BulkImport:
    """Show what was staged, or have it cleared."""
    options = row.options
    if options["dry_run"]:
        return _to(sessions, row, "clearing", ends="checked")
    if row.rows_bad and options["bad_rows"] == "refuse all":
        return _to(sessions, row, "clearing", ends="refused")
    shown = showing.show(sessions, row, progress)
    if shown.phase == "checking":  # others changed the same cars meanwhile, and now rows are bad
        return _decided(sessions, shown, progress)
    clearing.clear_file(sessions, shown)
    return shown


def _result(sessions: Sessions, row: BulkImport) -> dict[str, Any]:
    if row.phase == "refused":
        with sessions.reading() as session:
            faults = store.faults_of(session, row, limit=_SHOWN_FAULTS)
        errors = [
            {"row": one.row_number, "field": one.field, "wanted": one.wanted, "got": one.got}
            for one in faults
        ]
        if not row.rows_bad and errors:
            raise Malformed.of([{"field": one.field, "wanted": one.wanted, "got": one.got} for one in faults])
        raise RowsRefused(row.rows_read, row.rows_bad, errors)
    if row.phase == "cancelled":
        raise Cancelled
    return {
        "import_id": row.id,
        "state": row.phase,
        "rows": {name: getattr(row, f"rows_{name}") for name in ("read", "new", "changed", "same", "bad")},
        "refresh_job_id": row.refresh_job_id,
    }
