"""The schema of the database: where it stands, bringing it up to date, refusing to start on a wrong one."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.exc import SQLAlchemyError

from api.storage import dialect

if TYPE_CHECKING:
    from api.storage.engine import Database

_STEPS = Path(__file__).parent / "migrations"


class SchemaError(RuntimeError):
    """The database's schema is not the one that this release works with; says what to do."""


@cache
def head() -> str:
    """The revision that this release works with; read once, so that an upgrade on disk does not unsettle a process."""
    found = ScriptDirectory.from_config(configuration()).get_current_head()
    if found is None:
        raise SchemaError("this installation has no migrations: install it again")
    return found


def revision(database: Database) -> str | None:
    """The revision that the database has; None: it is empty."""
    with database.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def standing(database: Database) -> str:
    """In words: "current", "not at this release's schema" or "out of reach"."""
    try:
        return "current" if revision(database) == head() else "not at this release's schema"
    except SQLAlchemyError:
        return "out of reach"


def migrate(database: Database, target: str = "head") -> None:
    """Bring the schema up to a revision, data kept; each step is one transaction.

    Raises:
        SchemaError: the database was made by a later release.
    """
    _refuse_later(revision(database))
    with dialect.migrating(database.engine) as connection:
        config = configuration()
        config.attributes["connection"] = connection
        command.upgrade(config, target)


def ready(database: Database, *, may_migrate: bool) -> None:
    """See to it that the schema is the right one.

    Raises:
        SchemaError: it is not, and may not be changed here or comes from a later release.
    """
    found = revision(database)
    if found == head():
        return
    _refuse_later(found)
    if not may_migrate:
        state = "is empty" if found is None else f"stands at revision {found}"
        raise SchemaError(
            f"the database {state}, this release needs {head()}: run `wearwright migrate` first"
        )
    migrate(database)


def configuration() -> Config:
    """Alembic's configuration, made here so that it needs no file outside the package."""
    config = Config()
    config.set_main_option("script_location", str(_STEPS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def _refuse_later(found: str | None) -> None:
    known = {script.revision for script in ScriptDirectory.from_config(configuration()).walk_revisions()}
    if found is not None and found not in known:
        raise SchemaError(f"the database was made by a later release (revision {found}): use that release")
