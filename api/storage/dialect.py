"""The one file that asks which database it is: everything that differs between SQLite and PostgreSQL.

On SQLite, a transaction that reads first and writes later fails at once with "locked" when another one wrote in
between, however long the busy timeout. So write sessions begin with ``BEGIN IMMEDIATE`` (they wait for their turn)
and read sessions are made unable to write (``PRAGMA query_only``).
"""

from __future__ import annotations

import sqlite3
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import psycopg
from sqlalchemy import Float, event, func, text, type_coerce
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, IntegrityError, OperationalError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from sqlalchemy import Engine
    from sqlalchemy.engine import Connection
    from sqlalchemy.orm import Session

BUSY_TIMEOUT_SECONDS = 30
"""How long a write waits for another one before it gives up."""

_READ_ONLY = "wearwright_read_only"
_POSTGRESQL_LOCK_STATES = {"55P03", "40P01", "40001"}  # lock not available, deadlock, serialisation failure
_POSTGRESQL_UNIQUE_STATE = "23505"


class AlreadyServedError(RuntimeError):
    """A SQLite file is served by another process."""

    def __init__(self, path: str) -> None:
        super().__init__(
            f"{path} is served by another process: stop it first, or use PostgreSQL for several processes"
        )


def normalised_url(url: str) -> URL:
    """The address with the driver that we ship: psycopg 3 for PostgreSQL, the standard library's for SQLite.

    Raises:
        ValueError: another kind of database, or SQLite without a file.
    """
    try:
        parsed = make_url(url)
    except ArgumentError:
        raise ValueError("database_url: wanted sqlite:///FILE or postgresql://…, got no address") from None
    backend = parsed.get_backend_name()
    if backend == "postgresql":
        return parsed.set(drivername="postgresql+psycopg")
    if backend == "sqlite" and parsed.database not in (None, "", ":memory:"):
        return parsed.set(drivername="sqlite")
    raise ValueError("database_url: wanted sqlite:///FILE or postgresql://…, got " + repr(parsed.drivername))


def is_sqlite(bind: Engine | Connection | URL) -> bool:
    """Whether it is SQLite: one file, one writer at a time, one process."""
    return (bind.get_backend_name() if isinstance(bind, URL) else bind.dialect.name) == "sqlite"


def engine_options(url: URL) -> dict[str, Any]:
    """Arguments of ``create_engine`` for this database."""
    if is_sqlite(url):
        return {
            "connect_args": {"timeout": BUSY_TIMEOUT_SECONDS, "check_same_thread": False},
            "pool_size": 40,
        }
    options = f"-c lock_timeout={BUSY_TIMEOUT_SECONDS}s -c timezone=UTC"
    return {"connect_args": {"options": options}, "pool_size": 20, "max_overflow": 20, "pool_pre_ping": True}


def prepare(engine: Engine) -> None:
    """Attach what each new connection and each new transaction needs."""
    if not is_sqlite(engine):
        return
    event.listen(engine, "connect", _set_up_sqlite)
    event.listen(engine, "begin", _begin_sqlite)


def read_only_options(engine: Engine) -> dict[str, Any]:
    """Execution options of the engine behind read sessions."""
    return {_READ_ONLY: True} if is_sqlite(engine) else {"postgresql_readonly": True}


@contextmanager
def migrating(engine: Engine) -> Iterator[Connection]:
    """A connection for changes of the schema.

    SQLite changes a column by making the table anew; with foreign keys enforced, dropping the old one would delete
    what refers to it. They are off meanwhile, and checked by the caller's own tests of data kept.
    """
    with engine.connect() as connection:
        if not is_sqlite(engine):
            yield connection
            return
        raw = connection.connection
        raw.execute("PRAGMA foreign_keys = OFF")
        try:
            yield connection
        finally:
            connection.rollback()
            raw.execute("PRAGMA foreign_keys = ON")


@contextmanager
def only_process(url: URL) -> Iterator[None]:
    """Hold the right to serve a database for as long as the block runs.

    A SQLite file is served by one process: a second one would run the first one's jobs again. The right is a lock on a
    file beside it, which the operating system drops when the process ends, however it ends. PostgreSQL needs none.

    Raises:
        AlreadyServedError: another process serves the file.
        sqlite3.DatabaseError: no file can be made beside it; ``cannot_be_opened`` knows it.
    """
    if not is_sqlite(url):
        yield
        return
    lock = sqlite3.connect(f"{url.database}-served", timeout=0, isolation_level=None, check_same_thread=False)
    try:
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as held:
        lock.close()
        if "locked" not in str(held):
            raise
        raise AlreadyServedError(str(url.database)) from held
    try:
        yield
    finally:
        lock.close()


def wait_for_turn(session: Session, key: str, *, together: bool = False) -> None:
    """Hold everybody else with the same key until this transaction ends.

    SQLite has one writer at a time already; PostgreSQL takes an advisory lock, released at the end.

    Args:
        session: a session that writes.
        key: what the turn is about.
        together: let others through who also come together; only somebody who comes alone waits for all of them.

    Raises:
        sqlalchemy.exc.OperationalError: the lock timeout passed; ``is_lock_timeout`` knows it.
    """
    if is_sqlite(session.connection()):
        return
    lock = "pg_advisory_xact_lock_shared" if together else "pg_advisory_xact_lock"
    session.execute(text(f"SELECT {lock}(hashtextextended(:key, 0))"), {"key": key})


def days_between(session: Session, earlier: Any, later: Any) -> Any:
    """An expression for the days from one date to another."""
    if is_sqlite(session.connection()):
        return type_coerce(func.julianday(later) - func.julianday(earlier), Float)
    return type_coerce(later - earlier, Float)


def copy_in(session: Session, statement: str, rows: Iterable[Sequence[Any]]) -> None:
    """Send rows by PostgreSQL's own bulk statement, in the session's transaction.

    Raises:
        sqlalchemy.exc.IntegrityError: a row meets a constraint; the others of the statement are not in either.
    """
    connection = session.connection()
    raw: Any = connection.connection.driver_connection
    try:
        with raw.cursor() as cursor, cursor.copy(statement) as copy:
            for row in rows:
                copy.write_row(row)
    except psycopg.IntegrityError as error:
        raise IntegrityError(statement, None, error) from error


def cannot_be_opened(error: BaseException) -> bool:
    """Whether a database is out of reach or is none, wherever that showed; what is wrong within one is another matter."""
    if isinstance(error, OSError | OperationalError | sqlite3.OperationalError):
        return True
    return type(error) in {DatabaseError, sqlite3.DatabaseError}  # "file is not a database"


def is_lock_timeout(error: BaseException) -> bool:
    """Whether a statement gave up waiting for another transaction."""
    if not isinstance(error, DBAPIError):
        return False
    if getattr(error.orig, "sqlstate", None) in _POSTGRESQL_LOCK_STATES:
        return True
    return isinstance(error, OperationalError) and "database is locked" in str(error.orig)


def is_duplicate(error: BaseException) -> bool:
    """Whether a statement met a unique constraint."""
    if not isinstance(error, IntegrityError):
        return False
    if getattr(error.orig, "sqlstate", None) == _POSTGRESQL_UNIQUE_STATE:
        return True
    return "UNIQUE constraint failed" in str(error.orig)


def _set_up_sqlite(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves
    connection.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_SECONDS * 1000}")
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = NORMAL")
    connection.execute("PRAGMA foreign_keys = ON")


def _begin_sqlite(connection: Connection) -> None:
    read_only = bool(connection.get_execution_options().get(_READ_ONLY))
    connection.exec_driver_sql(f"PRAGMA query_only = {int(read_only)}")
    connection.exec_driver_sql("BEGIN" if read_only else "BEGIN IMMEDIATE")
