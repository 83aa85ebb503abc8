"""The command line: serve, migrate, keys, the demo, the OpenAPI document."""

from __future__ import annotations

import json
import sys
from typing import Annotated

import typer
from pydantic import ValidationError

from api import logs, serving
from api.settings import Settings

app = typer.Typer(
    help="Plan the wear parts of ageing cars: patchy records in, dated and reasoned work out.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
)
keys_app = typer.Typer(help="Keys to a fleet.", no_args_is_help=True)
app.add_typer(keys_app, name="keys")

DatabaseUrl = Annotated[
    str | None,
    typer.Option(
        "--database-url", help="sqlite:///FILE or postgresql://…; default: WEARWRIGHT_DATABASE_URL."
    ),
]


def main() -> None:
    """Run the command line; what is refused is one line on standard error and exit status 1."""
    try:
        app()
    except (serving.RefusedError, ValidationError, ValueError) as refusal:
        sys.stderr.write(f"wearwright: {_in_one_line(refusal)}\n")
        raise SystemExit(1) from None


def _in_one_line(refusal: Exception) -> str:
    if isinstance(refusal, ValidationError):
        return "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in refusal.errors())
    return str(refusal)


def _settings(database_url: str | None) -> Settings:
    settings = Settings() if database_url is None else Settings.model_validate({"database_url": database_url})
    logs.configure(settings.log_level, as_json=settings.log_json)
    return settings


@app.command()
def serve(
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port to listen on.")] = 8000,
    database_url: DatabaseUrl = None,
) -> None:
    """Serve the fleet's records and plans over HTTP until told to stop."""
    serving.serve(_settings(database_url), host, port, lambda text: typer.echo(text, err=True))


@app.command()
def worker(database_url: DatabaseUrl = None) -> None:
    """Run background work on a host of its own; PostgreSQL only (on SQLite the service does it)."""
    serving.work(_settings(database_url))


@app.command()
def migrate(database_url: DatabaseUrl = None) -> None:
    """Bring the database to the schema of this release; data are kept."""
    typer.echo(f"the database is at revision {serving.migrate(_settings(database_url))}")


@keys_app.command("create")
def create_key(
    fleet: Annotated[str, typer.Option(help="Name of the fleet; made if there is none.")],
    scope: Annotated[str, typer.Option(help="read, write or admin.")] = "admin",
    label: Annotated[str, typer.Option(help="What you call the key.")] = "",
    days: Annotated[
        int | None, typer.Option(min=1, max=36500, help="Days until it expires; default: never.")
    ] = None,
    time_zone: Annotated[str | None, typer.Option(help="The fleet's zone, such as Europe/London.")] = None,
    currency: Annotated[str | None, typer.Option(help="The fleet's currency, such as GBP.")] = None,
    database_url: DatabaseUrl = None,
) -> None:
    """Make a key for a fleet and print it, this once."""
    settings = _settings(database_url)
    order = serving.KeyOrder(
        fleet=fleet, scope=scope, label=label, days=days, time_zone=time_zone, currency=currency
    )
    typer.echo(serving.create_key(settings, order))
    typer.echo("This is shown once and stored nowhere: keep it.", err=True)


@app.command()
def demo() -> None:
    """Register an invented fleet with a service on this machine and show its plan."""
    from api.demo import run_demo  # noqa: PLC0415 - only this command needs it

    run_demo()


@app.command()
def openapi() -> None:
    """Print the OpenAPI document."""
    from api.app import create_app  # noqa: PLC0415 - loads every feature

    typer.echo(json.dumps(create_app(Settings(jobs=False)).openapi(), indent=2))
