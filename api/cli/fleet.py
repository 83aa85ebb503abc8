"""Subcommands that ask a running service about cars: cars, due, schedule, risk, orders."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Annotated
from uuid import UUID

import typer

from api.cli import output
from api.cli.application import app
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.cli.output import Column, Row, field, worded
from api.refused import RefusedError

if TYPE_CHECKING:
    from datetime import date

    from api.client import Json, WearwrightClient

AsOf = Annotated[
    datetime | None,
    typer.Option(
        "--as-of", formats=["%Y-%m-%d"], help="Seen from this day; default: today where the fleet is."
    ),
]
Car = Annotated[str, typer.Argument(help="The car's name, or its id.")]


def day_of(as_of: datetime | None) -> date | None:
    """The day of an option."""
    return None if as_of is None else as_of.date()


def car_of(client: WearwrightClient, named: str) -> Json:
    """The car of an id, or the one car of that name.

    Raises:
        RefusedError: no car has that name, or several have.
    """
    try:
        return client.vehicle(str(UUID(named))).body
    except ValueError:
        found = [car for car in client.vehicles(limit=100) if car["name"] == named]
    if len(found) == 1:
        return found[0]
    if found:
        raise RefusedError(
            f"car: {len(found)} cars have this name: give one's id ({', '.join(car['id'] for car in found[:5])})"
        )
    raise RefusedError(f"car: no car is called {named!r}: see `wearwright cars`")


def part(row: Row) -> str:
    """The part and where it sits."""
    return f"{row['part']}, {row['position']}" if row["position"] else str(row["part"])


def when(row: Row) -> str:
    """When it is due: now, a day, or never."""
    if row["status"] == "run to failure":
        return "when it fails"
    return "now" if row["status"] == "due now" else worded(field(row, "window.likely"))


def chance(row: Row) -> str:
    """The chance of failing before the window closes, in words."""
    return str(row["chance_to_window_end"]["words"]).replace("about ", "", 1)


WORK = (
    Column("Part", part),
    Column("Renew", when, keep=True),
    Column("Decides", "decides"),
    Column("May fail first", chance),
    Column("Safety", "safety"),
)


@app.command()
def cars(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """List the fleet's cars."""
    columns = (
        Column("Car", "name"), Column("Make", "make"), Column("Model", "model"), Column("Built", "built"), Column("Id", "id", keep=True)
    )  # fmt: skip
    with service(url, key_file) as client:
        output.forbidden(client.no_driving(), as_json=as_json)
        output.rows(client.vehicles(limit=100), columns, as_json=as_json, none="no car is registered yet")


@app.command()
def due(
    within_days: Annotated[int, typer.Option(min=0, max=3660, help="How far ahead.")] = 60,
    as_of: AsOf = None,
    car: Annotated[str | None, typer.Option(help="Only this car: its name, or its id.")] = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """List what comes due in the fleet, the most urgent first."""
    with service(url, key_file) as client:
        asked = {"as_of": day_of(as_of), "within_days": within_days}
        if car is None:
            found = client.fleet_due_soon(**asked, limit=100)  # type: ignore[arg-type]  # a date and a number
        else:
            found = client.due_soon(car_of(client, car)["id"], **asked)  # type: ignore[arg-type]  # as above
        columns = (Column("Car", "vehicle_name"), *WORK)
        output.forbidden(client.no_driving(), as_json=as_json)
        output.rows(found, columns, as_json=as_json, none=f"nothing is due within {within_days} days")


@app.command()
def schedule(
    car: Car,
    as_of: AsOf = None,
    years: Annotated[float | None, typer.Option(min=0.1, max=10.0, help="How many years ahead.")] = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Show one car's work, dated, with the reasons."""
    with service(url, key_file) as client:
        found = client.schedule(car_of(client, car)["id"], as_of=day_of(as_of), horizon_years=years)
    if as_json:
        output.value(found)
        return
    output.forbidden(found["do_not_drive"])
    output.rows(found["items"], WORK, as_json=False, none="no part in service is on record")
    output.lines("", *(f"- {part(item)}: {item['reason']}" for item in found["items"]))
    told = {text: None for item in found["items"] for text in item["cautions"] if item["status"] == "due now"}
    if told:
        output.lines("", "Before anybody picks up a spanner:", *(f"- {text}" for text in told))
    output.lines(
        "", "An estimate from records, no inspection: it never postpones a limit of maker or authority."
    )


@app.command()
def risk(
    car: Car,
    days: Annotated[int, typer.Option(min=1, max=3660, help="How many days ahead.")] = 30,
    as_of: AsOf = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Show the chance that a part on record stops the car, and which parts it comes from."""
    with service(url, key_file) as client:
        found = client.risk(car_of(client, car)["id"], as_of=day_of(as_of), days=days)
    if as_json:
        output.value(found)
        return
    output.forbidden(found["do_not_drive"])
    output.lines(f"{found['vehicle_name']}, {found['as_of']} to {found['until']}: {found['stop']['words']}")
    for bad in found["found_bad"]:
        output.lines(f"Renew first: {part(bad)}: {bad['reason']}")
    columns = (
        Column("Part", part),
        Column("Chance", "chance.words"),
        Column("When it fails", "failure_effect"),
    )
    output.rows(found["contributors"], columns, as_json=False)
    output.lines("", *found["notes"])


@app.command()
def orders(
    months: Annotated[int, typer.Option(min=1, max=24, help="Calendar months, this one included.")] = 6,
    lead_days: Annotated[int, typer.Option(min=0, max=365, help="From order to delivery.")] = 14,
    as_of: AsOf = None,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """List the parts that the fleet will want, kind by kind."""
    with service(url, key_file) as client:
        found = client.parts_to_order(as_of=day_of(as_of), months=months, lead_days=lead_days)
    if as_json:
        output.value(found)
        return
    columns = (
        Column("Part", "part"),
        Column("Planned", lambda row: sum(month["planned"] for month in row["months"]), right=True),
        Column("Expected", "expected", right=True),
        Column("Enough", "enough", right=True),
        Column(
            "Order by",
            lambda row: next((one["order_by"] for one in row["months"] if one["order_by"]), None),
            keep=True,
        ),
        Column("Mind", "shelf"),
    )
    output.rows(found["items"], columns, as_json=False, none="nothing will be wanted")
    output.lines("", *found["notes"])
