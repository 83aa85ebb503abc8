"""Subcommands about part kinds of a running service: kinds, life, refit."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from api.cli import output
from api.cli.application import app
from api.cli.jobs import followed
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.cli.output import Column, Row, worded

Kind = Annotated[str, typer.Argument(help="The part kind's id, such as rotor_arm: see `wearwright kinds`.")]


def tenth(row: Row) -> str:
    """Where a tenth has failed, with its limits."""
    point = row["life_at_10_percent"]
    ends = [point, point["low"], point["high"]]
    told = [" or ".join(_amounts(end)) for end in ends]
    return f"{told[0]} (80 %: {told[1]} to {told[2]})"


def _amounts(point: Row) -> list[str]:
    years = [] if point["years"] is None else [f"{point['years']:.2g} years"]
    return [*([] if point["distance"] is None else [worded(point["distance"])]), *years]


def circumstances(row: Row) -> str:
    """What stretches or shortens the life of such parts, one after another."""
    return "; ".join(one["words"] for one in row["circumstances"])


LIFE = (
    Column("Kind", "kind"),
    Column("From", "source"),
    Column("Clocks", "clocks"),
    Column("A tenth have failed by", tenth),
    Column("Rests on", "evidence.words"),
    Column("Circumstances", circumstances),
    Column("Left out", "left_out.count"),
    Column("Fitted", "fitted_at"),
)


@app.command()
def kinds(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """List the catalogue's part kinds."""
    columns = (
        Column("Id", "id", keep=True), Column("Part", "name_gb"), Column("In America", "name_us"), Column("Safety", "safety")
    )  # fmt: skip
    with service(url, key_file) as client:
        output.rows(client.part_kinds(), columns, as_json=as_json)


@app.command()
def life(
    kind: Kind,
    unit: Annotated[Literal["km", "mi"] | None, typer.Option(help="km or mi.")] = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Show how long parts of a kind last, and what that rests on."""
    with service(url, key_file) as client:
        output.record(client.life(kind, unit=unit), LIFE, as_json=as_json)


@app.command()
def refit(
    kind: Kind, url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False
) -> None:
    """Fit a kind's life anew from all records, and show it."""
    with service(url, key_file) as client:
        followed(client, client.refit(kind))
        output.record(client.life(kind), LIFE, as_json=as_json)
