"""Subcommands about weekly digests of a running service: digest show, list, make; and who gets them by mail."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Annotated

import typer

from api.cli import output
from api.cli.application import app
from api.cli.fleet import part, when
from api.cli.jobs import followed
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.cli.output import Column
from api.refused import RefusedError

if TYPE_CHECKING:
    from api.client import Json

digests = typer.Typer(help="The weekly digest, and who gets it by mail.", no_args_is_help=True)
app.add_typer(digests, name="digest")

SECTIONS = (("Became due this week", "became_due"), ("Due for longer", "still_due"), ("Due soon", "due_soon"))
PARTS = (
    Column("Car", "vehicle_name"),
    Column("Part", part),
    Column("Renew", when, keep=True),
    Column("May fail first", "chance"),
    Column("Safety", "safety"),
)
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
ADDRESSES = (
    Column("Address", "address"),
    Column("Goes out", lambda row: f"{WEEKDAYS[row['weekday'] - 1]} {row['hour']:02}:00", keep=True),
    Column("Sent", "latest.sent_at"),
    Column("Problem", lambda row: row["hindrance"] or output.field(row, "latest.problem")),
    Column("Id", "id", keep=True),
)


def _week(text: str | None) -> str | None:
    if text is not None and not re.fullmatch(r"[0-9]{4}-W[0-9]{2}", text):
        raise typer.BadParameter(f"wanted an ISO 8601 week such as 2026-W48, got {text!r}")
    return text


@digests.command("list")
def list_digests(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """List the digests that were made, latest week first."""
    columns = (
        Column("Week", "week", keep=True), Column("Seen from", "as_of", keep=True), Column("Became due", "became_due", right=True),
        Column("Due for longer", "still_due", right=True), Column("Due soon", "due_soon", right=True),
    )  # fmt: skip
    with service(url, key_file) as client:
        output.rows(client.digests(), columns, as_json=as_json, none="no digest was made yet")


@digests.command("make")
def make_digest(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """Have this week's digest made, unless it is there, and show it."""
    with service(url, key_file) as client:
        ended = followed(client, client.make_digest())
        _show(client.digest(ended["result"]["week"]), as_json=as_json)


@digests.command("show")
def show_digest(
    week: Annotated[
        str | None, typer.Argument(help="ISO week, 2026-W48; default: the latest made.", callback=_week)
    ] = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Show a week's digest as it was made."""
    with service(url, key_file) as client:
        if week is None:
            latest = next(client.digests(limit=1), None)
            if latest is None:
                raise RefusedError("no digest was made yet: `wearwright digest make`")
            week = str(latest["week"])
        _show(client.digest(week), as_json=as_json)


@digests.command("addresses")
def list_addresses(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """List who gets the digest by mail, and how the latest delivery went."""
    with service(url, key_file) as client:
        found = client.digest_subscriptions()
        output.rows(found, ADDRESSES, as_json=as_json, none="nobody gets the digest by mail")


@digests.command("subscribe")
def subscribe(
    address: Annotated[str, typer.Argument(help="The mailbox.")],
    weekday: Annotated[int, typer.Option(min=1, max=7, help="1 is Monday.")] = 1,
    hour: Annotated[int, typer.Option(min=0, max=23, help="Of the day where the fleet is.")] = 6,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Have the digest sent to an address every week."""
    with service(url, key_file) as client:
        made = client.add_digest_subscription({"address": address, "weekday": weekday, "hour": hour})
    output.record(made, ADDRESSES, as_json=as_json)


@digests.command("unsubscribe")
def unsubscribe(
    subscription_id: Annotated[str, typer.Argument(help="Id out of `wearwright digest addresses`.")],
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Send the digest to an address no longer."""
    with service(url, key_file) as client:
        client.remove_digest_subscription(subscription_id)
    if as_json:
        output.value({"removed": subscription_id})
    else:
        output.lines("it gets no digest any more")


def _show(found: Json, *, as_json: bool) -> None:
    if as_json:
        output.value(found)
        return
    output.lines(f"Week {found['week']}, seen from {found['as_of']}")
    output.forbidden(found["do_not_drive"])
    for title, name in SECTIONS:
        if found[name]["count"]:
            output.lines("")
            output.rows(found[name]["items"], PARTS, as_json=False, title=f"{title} ({found[name]['count']})")
    _lists(found)
    output.lines("", *found["notes"])


def _lists(found: Json) -> None:
    """The shorter lists below the parts."""
    shown = (
        ("Chance that a part stops the car within 30 days", "cars", (Column("Car", "vehicle_name"), Column("Chance", "stop.words"))),
        ("Odometers not read for three months", "unread_odometers", (Column("Car", "vehicle_name"), Column("Last read", "last_read_on"))),
        ("Parts to order for planned work", "to_order", (Column("Part", "part"), Column("Number", "planned", right=True), Column("Needed by", "needed_by", keep=True))),
        ("Done", "done", (Column("Car", "vehicle_name"), Column("Part", part), Column("On", "done_on", keep=True), Column("What", "what"), Column("How", "how"))),
        ("Accepted risks", "accepted", (Column("Car", "vehicle_name"), Column("Part", part), Column("Until", "until"), Column("Why", "reason"))),
    )  # fmt: skip
    for title, name, columns in shown:
        if found[name]:
            output.lines("")
            output.rows(found[name], columns, as_json=False, title=title)
