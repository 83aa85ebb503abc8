"""Subcommands that run the service or its database: serve, worker, migrate, demo, openapi, version."""

from __future__ import annotations

from importlib import metadata
from typing import Annotated

import typer

from api.cli import output
from api.cli.application import app
from api.cli.options import AsJson, AsJsonLines, DatabaseUrl, settings
from api.settings import Settings


@app.command()
def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on; 0: a free one.")] = 8000,
    database_url: DatabaseUrl = None,
    as_json: AsJsonLines = False,
) -> None:
    """Serve the fleet's records and plans over HTTP until told to stop."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    say = output.json_line if as_json else output.note
    serving.serve(settings(database_url, as_json=as_json), host, port, say)


@app.command()
def worker(database_url: DatabaseUrl = None, as_json: AsJsonLines = False) -> None:
    """Run background work on a host of its own; PostgreSQL only (on SQLite the service does it)."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    serving.work(settings(database_url, as_json=as_json))


@app.command()
def migrate(database_url: DatabaseUrl = None, as_json: AsJson = False) -> None:
    """Bring the database to the schema of this release; data are kept."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    revision = serving.migrate(settings(database_url))
    if as_json:
        output.value({"revision": revision})
    else:
        output.lines(f"the database is at revision {revision}")


@app.command()
def demo(as_json: AsJson = False) -> None:
    """Register an invented fleet with a service on this machine and show its plan.

    With --json the words go to standard error, and one JSON document at the end to standard output: folder, address, counts, what is due.
    """
    from api.demo import run_demo  # noqa: PLC0415 - only this command needs it

    run_demo(as_json=as_json)


@app.command()
def openapi() -> None:
    """Print the OpenAPI document (JSON)."""
    from api.app import create_app  # noqa: PLC0415 - loads every feature

    output.value(create_app(Settings(jobs=False)).openapi())


@app.command()
def version(as_json: AsJson = False) -> None:
    """Print the version of this program."""
    found = metadata.version("wearwright")
    if as_json:
        output.value({"version": found})
    else:
        output.lines(f"wearwright {found}")
