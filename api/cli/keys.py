"""Subcommands for keys: made on the database itself, since somebody has to hold the first one."""

from __future__ import annotations

from typing import Annotated

import typer
from pydantic import ValidationError

from api.cli import output
from api.cli.application import app
from api.cli.options import AsJson, DatabaseUrl, settings
from api.cli.output import Column

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
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    chosen = settings(database_url)
    ordered = {
        "fleet": fleet, "scope": scope, "label": label, "days": days, "time_zone": time_zone, "currency": currency
    }  # fmt: skip
    try:
        order = serving.KeyOrder.model_validate(ordered)
    except ValidationError as wrong:
        raise typer.BadParameter(output.in_one_line(wrong)) from wrong
    key = serving.create_key(chosen, order)
    if as_json:
        output.value({"fleet": fleet, "scope": scope, "key": key})
    else:
        typer.echo(key)
    output.note("This is shown once and stored nowhere: keep it.")


Key = Annotated[str, typer.Argument(help="The key's id or its prefix, out of `wearwright keys list`.")]
LISTED = (
    Column("Fleet", "fleet"),
    Column("Prefix", "prefix", keep=True),
    Column("Scope", "scope"),
    Column("Label", "label"),
    Column("Last used", lambda row: _day(row["last_used_at"]), keep=True),
    Column("Ends", lambda row: _day(row["expires_at"]), keep=True),
    Column("Revoked", lambda row: _day(row["revoked_at"]), keep=True),
)


@keys.command("list")
def list_keys(
    fleet: Annotated[str | None, typer.Option(help="Only this fleet's; default: every fleet's.")] = None,
    database_url: DatabaseUrl = None,
    as_json: AsJson = False,
) -> None:
    """List keys, revoked ones too; never the keys themselves."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    found = serving.list_keys(settings(database_url), fleet)
    output.rows(found, LISTED, as_json=as_json, none="no key was made yet: `wearwright keys create`")


@keys.command("rotate")
def rotate_key(key: Key, database_url: DatabaseUrl = None, as_json: AsJson = False) -> None:
    """Make a new key with the same fleet, scope, label and end, revoke the old one, and print the new one, this once."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    made = serving.rotate_key(settings(database_url), key)
    if as_json:
        output.value({"key": made})
    else:
        typer.echo(made)
    output.note("This is shown once and stored nowhere: keep it. The old one opens nothing any more.")


@keys.command("revoke")
def revoke_key(key: Key, database_url: DatabaseUrl = None, as_json: AsJson = False) -> None:
    """Make a key open nothing from now on, and end its sessions."""
    from api import serving  # noqa: PLC0415 - loads the database's libraries; other commands need none

    revoked = serving.revoke_key(settings(database_url), key)
    if as_json:
        output.value({"id": revoked, "revoked": True})
    else:
        output.lines("the key opens nothing any more")


def _day(moment: object) -> str:
    return str(moment or "")[:10]
