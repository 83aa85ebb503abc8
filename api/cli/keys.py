"""Subcommands for keys: made on the database itself, since somebody has to hold the first one."""

from __future__ import annotations

from typing import Annotated

import typer

from api import serving
from api.cli import output
from api.cli.application import app
from api.cli.options import AsJson, DatabaseUrl, settings

keys = typer.Typer(help="Keys to a fleet.", no_args_is_help=True)
app.add_typer(keys, name="keys")


@keys.command("create")
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
    as_json: AsJson = False,
) -> None:
    """Make a key for a fleet and print it, this once."""
    chosen = settings(database_url)
    order = serving.KeyOrder(
        fleet=fleet, scope=scope, label=label, days=days, time_zone=time_zone, currency=currency
    )
    key = serving.create_key(chosen, order)
    if as_json:
        output.value({"fleet": fleet, "scope": scope, "key": key})
    else:
        typer.echo(key)
    output.note("This is shown once and stored nowhere: keep it.")
