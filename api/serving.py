"""What the commands do: serve, work, migrate, make a key."""

from __future__ import annotations

import gc
import signal
import socket
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Literal
from zoneinfo import available_timezones

import uvicorn
from pydantic import BaseModel, Field, field_validator

from api.jobs import queue
from api.keys import by_hand, service
from api.problems import Conflict, NotFound
from api.refused import RefusedError
from api.storage import dialect, schema
from api.storage.engine import Database
from api.storage.session import reading, writing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from api.settings import Settings


class KeyOrder(BaseModel):
    """A key as ordered on the command line."""

    fleet: str = Field(min_length=1, max_length=200)
    scope: Literal["read", "write", "admin"]
    label: str = Field(max_length=200)
    days: int | None
    time_zone: str | None
    currency: str | None = Field(pattern="^[A-Z]{3}$")

    @field_validator("time_zone")
    @classmethod
    def known_zone(cls, value: str | None) -> str | None:
        """Refuse a zone that nobody knows."""
        if value is not None and value not in available_timezones():
            raise ValueError("wanted an IANA time zone such as Europe/London")
        return value


def serve(settings: Settings, host: str, port: int, say: Callable[[str], None]) -> None:
    """Serve until a signal to stop; running requests are finished, running jobs come to a stop.

    Args:
        settings: of the service.
        host: address to listen on.
        port: port to listen on; 0: a free one.
        say: tells whoever started it where it listens.

    Raises:
        RefusedError: the database cannot be opened, or the port is taken.
    """
    from api.app import create_app, prepare  # noqa: PLC0415 - loads every feature; the other commands need none

    with opened(settings) as database, dialect.only_process(database.url):
        prepare(database, settings)  # refuses in words here; within the server it would be a traceback
    config = uvicorn.Config(
        create_app(settings),
        host=host,
        port=port,
        log_config=None,
        access_log=False,
        timeout_graceful_shutdown=20,
    )
    _refuse_taken(host, port)
    say(
        f"serving on http://{host}:{port or '(a free port, see the log)'} - documentation at /docs, pages at /pages"
    )
    server = uvicorn.Server(config)
    settle()
    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(
            number, signal.SIG_IGN
        )  # the server takes them while it runs, and raises them again at its end
    server.run()
    if not server.started:
        raise RefusedError("the service did not start; the log above says why")


def _refuse_taken(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as trial:
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((host, port))
        except OSError as failure:
            wanted = "an address of this machine and a free port: choose with --host and --port"
            raise RefusedError(f"port: wanted {wanted}; {host}:{port} {failure.strerror}") from failure


def work(settings: Settings) -> None:
    """Run jobs in this process until a signal to stop.

    Raises:
        RefusedError: on SQLite, whose one process is the service.
    """
    from api.app import create_app  # noqa: PLC0415 - its features register the work that jobs do
    from api.background import working  # noqa: PLC0415 - as above

    with opened(settings) as database:
        if database.is_sqlite:
            raise RefusedError(
                "on SQLite the service itself runs the jobs: use `wearwright serve`, or PostgreSQL"
            )
        schema.ready(database, may_migrate=bool(settings.migrate))
        create_app(settings)
        settle()
        stop = threading.Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: stop.set())
        with working(database, settings):
            stop.wait()


def settle() -> None:
    """Set all that was loaded apart from what comes and goes, so that no collection walks it again (see `gc.freeze`)."""
    gc.collect()
    gc.freeze()


def migrate(settings: Settings) -> str:
    """Bring schema and queue up to date; the revision reached."""
    with opened(settings) as database:
        schema.migrate(database)
        queue.prepare(database)
        return schema.head()


def create_key(settings: Settings, order: KeyOrder) -> str:
    """Make a key, and the fleet if there is none of that name; the key's text.

    Raises:
        SchemaError: the database is not at this release's schema and may not be changed here.
    """
    with opened(settings) as database:
        schema.ready(
            database, may_migrate=database.is_sqlite if settings.migrate is None else settings.migrate
        )
        with writing(database) as session:
            fleet = service.fleet_for(
                session, order.fleet, time_zone=order.time_zone, currency=order.currency
            )
            return service.make_key(session, fleet.id, order.scope, label=order.label, days=order.days).text


def list_keys(settings: Settings, fleet: str | None) -> list[dict[str, object]]:
    """The keys of one fleet or of all; never the keys themselves."""
    with _with_schema(settings) as database, reading(database) as session:
        return list(by_hand.listed(session, fleet))


def revoke_key(settings: Settings, key: str) -> str:
    """Make a key open nothing from now on; its id."""
    with _with_schema(settings) as database, writing(database) as session:
        return by_hand.revoke(session, key).id


def rotate_key(settings: Settings, key: str) -> str:
    """Make a new key in an old one's place; the new key's text."""
    with _with_schema(settings) as database, writing(database) as session:
        return by_hand.rotate(session, key).text


@contextmanager
def _with_schema(settings: Settings) -> Iterator[Database]:
    """The database at this release's schema, for what needs the keys that are in it; an empty one has none."""
    with opened(settings) as database:
        schema.ready(database, may_migrate=bool(settings.migrate))
        yield database


@contextmanager
def opened(settings: Settings) -> Iterator[Database]:
    """The database of the settings for one command; its refusals in words."""
    database = Database(settings.database_url.get_secret_value())
    try:
        yield database
    except (schema.SchemaError, dialect.AlreadyServedError) as refusal:
        raise RefusedError(str(refusal)) from refusal
    except (NotFound, Conflict) as refusal:
        raise RefusedError(str(refusal.detail)) from refusal
    except Exception as failure:
        if not dialect.cannot_be_opened(failure):
            raise
        why = str(getattr(failure, "orig", failure)).strip().splitlines()[0]
        raise RefusedError(
            f"database_url: the database cannot be opened ({why}); see --database-url"
        ) from failure
    finally:
        database.close()
