"""Sessions for requests and jobs: one unit of work, one transaction; only this file and the jobs commit.

The dependencies carry ``scope="function"``: their exit runs when the route has returned and before the answer is
sent. So an answer that says "stored" is sent after the commit, and a commit that fails is answered as a failure.
"""

import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Annotated

import structlog
from fastapi import Depends, Request
from sqlalchemy import event
from sqlmodel import Session

from api.storage.engine import Database

log = structlog.get_logger(__name__)

LONG_SECONDS = 1.0
"""No write transaction should hold up the others for longer: bulk work goes in chunks."""


@contextmanager
def writing(database: Database) -> Iterator[Session]:
    """A transaction that commits at the end of the block, and rolls back whole if anything is raised."""
    with database.writing() as session, _timed(session), session.begin():
        yield session


@contextmanager
def _timed(session: Session) -> Iterator[None]:
    """Warn when a transaction held up the other writers for long; waiting for its own turn does not count."""
    event.listen(session, "after_begin", lambda *_: session.info.setdefault("began", time.monotonic()))
    try:
        yield
    finally:
        held = time.monotonic() - session.info.get("began", time.monotonic())
        if held > LONG_SECONDS:
            log.warning("a write transaction held up others", seconds=round(held, 2))


@contextmanager
def reading(database: Database) -> Iterator[Session]:
    """A read-only transaction."""
    with database.reading() as session, session.begin():
        yield session


def database_of(request: Request) -> Database:
    """The database of the application that serves this request."""
    database: Database = request.app.state.database
    return database


def read_session(request: Request) -> Iterator[Session]:
    """A read-only session for one request."""
    with reading(database_of(request)) as session:
        yield session


def write_session(request: Request) -> Iterator[Session]:
    """A session for one request that changes something; commits before the answer is sent.

    ``request.state.before_work``, where set, is called with the session first (see ``api.web.once``).
    """
    with writing(database_of(request)) as session:
        request.state.session = session
        before_work = getattr(request.state, "before_work", None)
        if before_work is not None:
            before_work(session)
        yield session


ReadSession = Annotated[Session, Depends(read_session, scope="function")]
WriteSession = Annotated[Session, Depends(write_session, scope="function")]
