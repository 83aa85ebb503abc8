"""One database: its engine, and the two kinds of session made from it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import create_engine
from sqlmodel import Session

from api.storage import dialect, hidden

if TYPE_CHECKING:
    from sqlalchemy import Engine
    from sqlalchemy.engine import URL


class Database:
    """The engine of one database address; its sessions see no record that an import has not shown yet.

    Attributes:
        url: address with the driver chosen.
        engine: for write sessions, migrations and jobs.
    """

    def __init__(self, url: str) -> None:
        """Open nothing yet: connections are made when they are needed.

        Raises:
            ValueError: the address is of no database that we know.
        """
        self.url: URL = dialect.normalised_url(url)
        self.engine: Engine = create_engine(self.url, **dialect.engine_options(self.url))
        dialect.prepare(self.engine)
        hidden.install()
        self._reading = self.engine.execution_options(**dialect.read_only_options(self.engine))

    @property
    def is_sqlite(self) -> bool:
        """Whether the database is one file of one process."""
        return dialect.is_sqlite(self.url)

    def reading(self) -> Session:
        """A session that cannot write."""
        return Session(self._reading, expire_on_commit=False)

    def writing(self) -> Session:
        """A session whose transaction may write; on SQLite it waits for its turn at the first statement."""
        return Session(self.engine, expire_on_commit=False)

    def close(self) -> None:
        """Close every connection."""
        self.engine.dispose()
