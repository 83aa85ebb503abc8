"""Subcommands for files of records: send one in, write one out, by a running service."""

import json
from pathlib import Path
from typing import Annotated, Literal

import typer

from api.cli import output
from api.cli.application import app
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.refused import RefusedError

RecordKind = Annotated[
    Literal["vehicles", "odometer-readings", "fitments", "inspections", "repairs", "removals"],
    typer.Option("--kind", help="Which records the file holds."),
]


@app.command("import")
def import_file(
    file: Annotated[Path, typer.Argument(exists=True, dir_okay=False, help="CSV with a head, or .jsonl.")],
    kind: RecordKind,
    name: Annotated[
        list[str] | None,
        typer.Option(
            "--map",
            help="COLUMN=VALUE for the file's own names: car=vehicle_ref, odo=reading.mi; clerk= leaves it aside.",
        ),
    ] = None,
    skip_bad: Annotated[bool, typer.Option(help="Take the good rows where some are bad.")] = False,
    dry_run: Annotated[bool, typer.Option(help="Only say what would happen.")] = False,
    leave_aside: Annotated[bool, typer.Option(help="Leave columns aside that nobody has named.")] = False,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Send a file of records and wait until it is taken in; whole, or not at all."""
    with service(url, key_file) as client:
        found = client.import_file(
            file,
            kind,
            mapping=dict(_pair(one) for one in name or ()),
            bad_rows="skip" if skip_bad else "refuse all",
            unknown_columns="leave aside" if leave_aside else "refuse",
            dry_run=dry_run,
        )
        errors = client.import_errors(found["id"], file_format="jsonl").splitlines()
    if as_json:
        output.value(found)
    else:
        counts = ", ".join(f"{number:,} {what}" for what, number in found["rows"].items())
        output.lines(f"{found['state']}: {counts}")
    for line in errors[:20]:
        output.note(_fault(json.loads(line)))
    if len(errors) > 20:
        output.note(f"and {len(errors) - 20:,} more: /v1/imports/{found['id']}/errors")
    if found["state"] not in {"shown", "checked"}:
        raise RefusedError(f"{file}: {found['state']}, nothing of it was stored")


@app.command("export")
def export_file(
    file: Annotated[Path, typer.Argument(dir_okay=False, help="Where to; .jsonl for JSON Lines, else CSV.")],
    kind: RecordKind,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
) -> None:
    """Write every record of a kind into a file that an import takes as it is."""
    with service(url, key_file) as client:
        size = client.export_file(kind, file)
    output.note(f"{file}: {size:,} bytes")


def _fault(fault: output.Row) -> str:
    """What is wrong with which row, in one line."""
    place = f"row {fault['row']}" if fault["row"] else "the file"
    return " ".join(f"{place}: {fault['field']}: wanted {fault['wanted']}, got {fault['got']}".split())


def _pair(text: str) -> tuple[str, str | None]:
    column, sign, value = text.partition("=")
    if not sign or not column:
        raise typer.BadParameter(f"wanted COLUMN=VALUE, got {text!r}", param_hint="--map")
    return column, value or None
