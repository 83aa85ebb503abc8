"""Queries for imports: where each stands, pieces of its file, faults of its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import CursorResult, delete, func, update
from sqlmodel import col, select

from api.jobs.registry import Superseded
from api.jobs.store import LIVE_STATES
from api.storage.tables import BulkImport, ImportFault, ImportPart, ImportTouch, Job
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar

    from api.imports.shapes import Fault

MOST_FAULTS = 10_000
"""How many faults of one file are kept; all are counted."""


def imports_of(fleet_id: str) -> SelectOfScalar[BulkImport]:
    """All imports of one fleet, latest first, for paging."""
    order = (col(BulkImport.created_at).desc(), col(BulkImport.id).desc())
    return select(BulkImport).where(BulkImport.fleet_id == fleet_id).order_by(*order)


def found(session: Session, fleet_id: str, import_id: str, *, hold: bool = False) -> BulkImport | None:
    """One import of one fleet; held until the transaction ends where that is asked for."""
    wanted = select(BulkImport).where(BulkImport.fleet_id == fleet_id, BulkImport.id == import_id)
    return session.exec(wanted.with_for_update() if hold else wanted).one_or_none()


def at_work(session: Session, fleet_id: str) -> BulkImport | None:
    """The import of the fleet whose job waits or runs; there is one at most."""
    wanted = (
        select(BulkImport)
        .join(Job, col(Job.id) == col(BulkImport.job_id))
        .where(BulkImport.fleet_id == fleet_id, col(BulkImport.hidden), col(Job.state).in_(LIVE_STATES))
    )
    return session.exec(wanted).first()


def left_behind(session: Session, fleet_id: str) -> list[BulkImport]:
    """Imports whose job has ended without clearing up after them."""
    wanted = (
        select(BulkImport)
        .join(Job, col(Job.id) == col(BulkImport.job_id))
        .where(BulkImport.fleet_id == fleet_id, col(BulkImport.hidden), col(Job.state).not_in(LIVE_STATES))
    )
    return list(session.exec(wanted))


def job_states(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, str]:
    """States of jobs by id."""
    wanted = select(Job.id, Job.state).where(Job.fleet_id == fleet_id, col(Job.id).in_(ids))
    return dict(session.exec(wanted).all())


def drop_never_sent(session: Session, fleet_id: str, before: datetime) -> None:
    """Forget imports whose file never came, with what there is of it."""
    session.execute(
        delete(BulkImport).where(
            col(BulkImport.fleet_id) == fleet_id,
            col(BulkImport.phase) == "open",
            col(BulkImport.updated_at) < before,
        )
    )


# The file


def keep_part(session: Session, row: BulkImport, upload: str, number: int, content: bytes) -> None:
    """Store a piece of a file."""
    part = ImportPart(import_id=row.id, fleet_id=row.fleet_id, upload=upload, number=number, content=content)
    session.add(part)


def parts(session: Session, row: BulkImport, number: int) -> bytes | None:
    """One piece of the file that was taken; None past its end."""
    wanted = select(ImportPart.content).where(
        ImportPart.import_id == row.id,
        ImportPart.fleet_id == row.fleet_id,
        ImportPart.upload == row.upload,
        ImportPart.number == number,
    )
    return session.exec(wanted).one_or_none()


def drop_parts(session: Session, row: BulkImport, *, upload: str | None = None, most: int = 20) -> int:
    """Delete some pieces, of one upload or all; how many."""
    wanted = select(ImportPart.upload, ImportPart.number).where(
        ImportPart.import_id == row.id, ImportPart.fleet_id == row.fleet_id
    )
    if upload is not None:
        wanted = wanted.where(ImportPart.upload == upload)
    named = session.exec(wanted.limit(most)).all()
    for of, number in named:
        session.execute(
            delete(ImportPart).where(
                col(ImportPart.import_id) == row.id,
                col(ImportPart.fleet_id) == row.fleet_id,
                col(ImportPart.upload) == of,
                col(ImportPart.number) == number,
            )
        )
    return len(named)


# Where it stands


def current(session: Session, row: BulkImport) -> BulkImport:
    """The same import as it is now, with the attempt that the caller makes.

    Raises:
        Superseded: another attempt has it.
    """
    wanted = select(BulkImport).where(BulkImport.fleet_id == row.fleet_id, BulkImport.id == row.id)
    now = session.exec(wanted.execution_options(populate_existing=True)).one_or_none()
    if now is None or now.attempt != row.attempt:
        raise Superseded
    session.expunge(now)
    return now


def advance(session: Session, row: BulkImport, **values: Any) -> bool:
    """Write where an attempt stands, if it is the latest and still where `row` says; False: it is not."""
    statement = (
        update(BulkImport)
        .where(
            col(BulkImport.id) == row.id,
            col(BulkImport.fleet_id) == row.fleet_id,
            col(BulkImport.attempt) == row.attempt,
            col(BulkImport.rows_read) == row.rows_read,
        )
        .values(version=BulkImport.version + 1, updated_at=utc_now(), **values)
        .execution_options(synchronize_session=False)
    )
    return cast("CursorResult[Any]", session.execute(statement)).rowcount == 1


def keep_faults(session: Session, row: BulkImport, faults: Sequence[Fault]) -> None:
    """Store faults, as many as are kept of one file."""
    if not faults:
        return
    kept = session.exec(
        select(func.count())
        .select_from(ImportFault)
        .where(ImportFault.import_id == row.id, ImportFault.fleet_id == row.fleet_id)
    ).one()
    some = sorted(faults)[: max(MOST_FAULTS - kept, 0)]
    numbers: dict[int, int] = {}
    for fault in some:
        numbers[fault.row] = numbers.get(fault.row, 0) + 1
        session.add(
            ImportFault(
                import_id=row.id,
                fleet_id=row.fleet_id,
                row_number=fault.row,
                number=numbers[fault.row],
                **{name: _kept(getattr(fault, name)) for name in ("field", "wanted", "got")},
            )
        )


def _kept(text: str) -> str:
    """Text as a database keeps it: a NUL is written out."""
    return text.replace("\x00", "\\x00")


def faults_of(session: Session, row: BulkImport, limit: int = MOST_FAULTS) -> list[ImportFault]:
    """Faults of a file, by row."""
    wanted = (
        select(ImportFault)
        .where(ImportFault.import_id == row.id, ImportFault.fleet_id == row.fleet_id)
        .order_by(col(ImportFault.row_number), col(ImportFault.number))
    )
    return list(session.exec(wanted.limit(limit)))


def touched(session: Session, row: BulkImport) -> list[str]:
    """Cars whose records somebody else changed meanwhile."""
    wanted = select(ImportTouch.vehicle_id).where(
        ImportTouch.import_id == row.id, ImportTouch.fleet_id == row.fleet_id
    )
    return list(session.exec(wanted))


def forget_touched(session: Session, row: BulkImport, vehicle_ids: Collection[str]) -> None:
    """They have been looked at."""
    session.execute(
        delete(ImportTouch).where(
            col(ImportTouch.import_id) == row.id,
            col(ImportTouch.fleet_id) == row.fleet_id,
            col(ImportTouch.vehicle_id).in_(vehicle_ids),
        )
    )
