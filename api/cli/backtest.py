"""Subcommand that looks back on a kind's predictions with a running service: backtest."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from api.cli import output
from api.cli.application import app
from api.cli.jobs import followed
from api.cli.kinds import Kind  # noqa: TC001 - typer reads it at run time
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.cli.output import Column, Row

if TYPE_CHECKING:
    from collections.abc import Iterator

    from api.client import Json


def percent(share: float | None) -> str:
    """A share as people write it, never surer than it is."""
    if share is None:
        return "–"
    if share < 0.1:
        return f"{100 * share:.1f} %"
    return f"{100 * share:.0f} %"


def _came(row: Row) -> str:
    observed = row["observed"]
    return f"{percent(observed['value'])} ({percent(observed['low'])} to {percent(observed['high'])})"


def _saved(name: str) -> Any:
    def told(row: Row) -> str:
        error = row[f"{name}_error"]
        return f"{row[name]:+.4f}" + ("" if error is None else f" ± {error:.4f}")

    return told


def _ratio(row: Row) -> str:
    ratio = row["ratio"]
    if ratio["value"] is None or ratio["low"] is None:
        return "–"
    return f"{ratio['value']:.2g} (90 %: {ratio['low']:.2g} to {ratio['high']:.2g})"


SUMMARY = (
    Column("Verdict", "words"),
    Column("Looked back on", lambda row: f"{row['cars']} cars, {row['parts']} parts, {row['statements']} statements"),
    Column("Horizon", lambda row: f"{row['horizon_years']:g} year{'s' if row['horizon_years'] != 1 else ''}"),
    Column("Failed within it", lambda row: f"{row['failures']} parts"),
    Column("Left before", lambda row: f"{row['censored']} parts, renewed while good, sold or lost sight of"),
    Column("Failures foretold", lambda row: f"{row['expected']:.1f}"),
    Column("Failures that came", lambda row: f"{row['observed']:.1f}"),
    Column("Came for one foretold", _ratio),
    Column("Rule of thumb", "rule_of_thumb"),
)  # fmt: skip
LINES = (
    Column("Said", lambda row: f"{percent(row['lowest'])} to {percent(row['highest'])}", keep=True),
    Column("On average", lambda row: percent(row["stated"]), right=True),
    Column("Failed (90 %)", _came),
    Column("Parts", "parts", right=True),
)
SCORES = (
    Column("Whose", "name"),
    Column("Brier score", lambda row: f"{row['brier']:.4f}", right=True),
    Column("Log score", lambda row: f"{row['log']:.4f}", right=True),
)
SAVED = (
    Column("Against", "name"),
    Column("Brier saved", _saved("brier")),
    Column("Log saved", _saved("log")),
)
YEARS = (
    Column("Year", "year", keep=True),
    Column("Past days", "days", right=True),
    Column("Foretold", lambda row: f"{row['expected']:.1f}", right=True),
    Column("Came", lambda row: f"{row['observed']:.1f}", right=True),
)
WHY = (Column("Gave no statement", "reason"), Column("Times", "count", right=True))


@app.command()
def backtest(
    kind: Kind,
    every: Annotated[Literal["month", "quarter", "year"], typer.Option(help="Predict from the ends of these.")] = "quarter",
    horizon_years: Annotated[float, typer.Option(help="How far each prediction looks.")] = 1.0,
    first: Annotated[str | None, typer.Option(help="No past day before this one, 2015-01-01.")] = None,
    stored: Annotated[bool, typer.Option("--stored", help="Show what was found last; look back on nothing.")] = False,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:  # fmt: skip
    """Hold past predictions for a kind against what came, and show how far they were right."""
    with service(url, key_file) as client:
        if not stored:
            asked = {"every": every, "horizon_years": horizon_years, "first": first}
            followed(client, client.look_back(kind, asked))
        _show(client.backtest(kind), as_json=as_json)


def _show(told: Json, *, as_json: bool) -> None:
    found = told["found"]
    if as_json:
        output.value(told)
        return
    if found is None:
        output.lines(told["words"])
        return
    output.record({**found, "words": told["words"]}, SUMMARY, as_json=False)
    tables: list[tuple[str, Any, tuple[Column, ...]]] = [
        ("What was said, and what came of it", found["calibration"], LINES),
        ("Scores: smaller is better", found["scores"], SCORES),
        ("What the predictions save, ± standard error", found["differences"], SAVED),
        (
            "Year by year; a failure counts once for each past day that looked ahead to it",
            _years(found),
            YEARS,
        ),
        ("Left out", found["left_out"], WHY),
    ]
    for title, rows, columns in tables:
        output.lines("")
        output.rows(rows, columns, as_json=False, title=title)
    output.lines("", told["cautions"][0])


def _years(found: Json) -> Iterator[Row]:
    """The past days summed by year."""
    for year, lines in groupby(found["origins"], key=lambda line: line["on"][:4]):
        days = list(lines)
        sums = {name: sum(day[name] for day in days) for name in ("expected", "observed")}
        yield {"year": year, "days": len(days), **sums}
