"""Rules for imports as their fleet sees them: one at a time, a file taken once, errors to be had as a file."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import TYPE_CHECKING, Any
from uuid import uuid4

from fastapi.concurrency import run_in_threadpool

from api import jobs
from api.external_refs import refuse_taken
from api.imports import naming, refresh, showing, store, work
from api.imports.fields import kinds
from api.imports.schemas import ImportCreate, ImportOut
from api.problems import Conflict, ImportRunning, Malformed, NotFound, TooLarge
from api.storage import dialect
from api.storage.session import writing
from api.storage.tables import BulkImport
from api.storage.tables.imports import BLOCK_LENGTH
from api.storage.types import new_id, utc_now

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.engine import Database

WORK = "import"
"""The kind of job that takes a file in."""

jobs.register(WORK, work.take_in)
jobs.register(showing.REFRESH, refresh.bring_up_to_date)

PIECE_BYTES = 1_000_000
_KEPT_OPEN = timedelta(days=1)


def create(session: Session, who: Principal, body: ImportCreate) -> BulkImport:
    """Open an import: its file follows.

    Raises:
        Malformed: the mapping names a value that such records do not have.
        Conflict: the ``external_ref`` is taken.
    """
    naming.refuse_unknown_targets(kinds()[body.kind], body.mapping)
    store.drop_never_sent(session, who.fleet_id, utc_now() - _KEPT_OPEN)
    refuse_taken(session, BulkImport, who.fleet_id, body.external_ref)
    row = BulkImport(
        fleet_id=who.fleet_id,
        kind=body.kind,
        external_ref=body.external_ref,
        block=_block(),
        options=body.model_dump(exclude={"external_ref"}),
    )
    session.add(row)
    session.flush()
    return row


def _block() -> str:
    """What the ids of its rows begin with: a UUID of version 8 (RFC 9562), whose last 32 bits count rows."""
    made = new_id()
    return f"{made[:14]}8{made[15:19]}a{made[20:]}"[:BLOCK_LENGTH]


def found(session: Session, fleet_id: str, import_id: str) -> BulkImport:
    """One import of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.found(session, fleet_id, import_id)
    if row is None:
        raise NotFound("no such import")
    return row


async def take_file(
    database: Database, who: Principal, import_id: str, pieces: AsyncIterator[bytes], most_bytes: int
) -> ImportOut:
    """Store a file piece by piece, and queue the job that takes it in.

    The same file sent again, after an answer was lost, changes nothing.

    Raises:
        NotFound: no such import.
        Conflict: another file was taken already.
        ImportRunning: another import of this fleet is at work.
        TooLarge: the file is larger than is taken.
        Malformed: nothing came.
    """
    upload = str(uuid4())
    row = await run_in_threadpool(_begin, database, who, import_id, upload)
    taken = row.upload if row.phase != "open" else None
    digest, size, number, piece = hashlib.sha256(), 0, 0, bytearray()
    try:
        async for some in pieces:
            size += len(some)
            _refuse_large(size, most_bytes)
            digest.update(some)
            piece += some
            if len(piece) >= PIECE_BYTES and taken is None:
                await run_in_threadpool(_keep, database, row, upload, number, bytes(piece))
                number += 1
            if len(piece) >= PIECE_BYTES:
                piece.clear()
        _refuse_empty(size)
        if piece and taken is None:
            await run_in_threadpool(_keep, database, row, upload, number, bytes(piece))
        return await run_in_threadpool(_end, database, who, row, upload, size, digest.hexdigest())
    except BaseException:
        if taken is None:
            await run_in_threadpool(_forget, database, row, upload)
        raise


def _refuse_large(size: int, most_bytes: int) -> None:
    if size > most_bytes:
        raise TooLarge("the file is larger than is taken here", limit=most_bytes)


def _refuse_empty(size: int) -> None:
    if size == 0:
        raise Malformed("content", "a file: rows of CSV under a head, or JSON Lines", "an empty body")


def _begin(database: Database, who: Principal, import_id: str, upload: str) -> BulkImport:
    with writing(database) as session:
        row = found(session, who.fleet_id, import_id)
        if row.phase == "open":
            row.upload = upload
            session.add(row)
        return row


def _keep(database: Database, row: BulkImport, upload: str, number: int, content: bytes) -> None:
    with writing(database) as session:
        store.keep_part(session, row, upload, number, content)


def _forget(database: Database, row: BulkImport, upload: str) -> None:
    while True:
        with writing(database) as session:
            if not store.drop_parts(session, row, upload=upload):
                return


def _end(
    database: Database, who: Principal, begun: BulkImport, upload: str, size: int, digest: str
) -> ImportOut:
    with writing(database) as session:
        dialect.wait_for_turn(session, f"imports {who.fleet_id}")
        row = store.found(session, who.fleet_id, begun.id, hold=True)
        if row is None:
            raise NotFound("no such import")
        session.refresh(row)
        if row.phase != "open" and row.file_digest == digest:
            return shown(session, row)
        if row.phase != "open" or row.upload != upload:
            raise Conflict("this import has another file already: open another one", field="content")
        other = store.at_work(session, who.fleet_id)
        if other is not None:
            raise ImportRunning(other.id)
        row.file_bytes, row.file_digest, row.phase = size, digest, "queued"
        row.job_id = jobs.enqueue(session, who.fleet_id, kind=WORK, payload={"import_id": row.id}).id
        session.add(row)
        session.flush()
        return shown(session, row)


def shown(session: Session, row: BulkImport) -> ImportOut:
    """An import as an answer shows it."""
    states = store.job_states(session, row.fleet_id, [row.job_id] if row.job_id else [])
    return as_answer(row, states)


def as_answer(row: BulkImport, job_states: dict[str, str]) -> ImportOut:
    """The same with the states of jobs at hand."""
    ended = {"cancelled": "cancelled", "failed": "refused"}.get(job_states.get(row.job_id or "", ""))
    values: dict[str, Any] = {
        **row.model_dump(),
        "columns": [],
        "unknown_columns": [],
        "encoding": None,
        "separator": None,
        **row.report,
        "state": ended if row.hidden and ended else row.phase,
        "rows": {name: getattr(row, f"rows_{name}") for name in ("read", "new", "changed", "same", "bad")},
    }
    return ImportOut.model_validate(values)
