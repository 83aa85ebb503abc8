"""What the demo prints: due work and reasons on paper 80 columns wide, as a workshop would read them."""

from __future__ import annotations

import re
import shutil
import textwrap
from datetime import date
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from api.client import Json
    from api.demo.records import FleetRecords, Line
    from api.demo.sending import Refit

WIDTH = 80
_MOST_DUE = 8
_MOST_SCHEDULED = 6
_MOST_SUSPECTS = 4
_ODDS = re.compile(r"(?:about )?(.+?)(?: \(between (.+?) and (.+?)\))?(?: if .*)?$")


def console(*, beside: bool = False) -> Console:
    """Standard output, or standard error beside an answer for programs; at most 80 columns wide."""
    return Console(
        stderr=beside, width=min(WIDTH, shutil.get_terminal_size().columns), highlight=False, soft_wrap=False
    )


def opening(screen: Console, records: FleetRecords, folder: Path) -> None:
    """Say what is about to happen, and that the fleet is invented."""
    cars, parts = len(records.vehicles), len(records.fitments)
    heading(screen, "wearwright: a demo with an invented fleet")
    paragraph(
        screen,
        f"{cars} cars of a hire firm that does not exist, {parts} parts, {len(records)} records from papers that end on "
        f"{day(records.last_day())}. Everything is sent to the real service over HTTP. Its database, key and log are kept in "
        f"{folder}/, which each run empties and builds anew. It takes a minute or two.",
    )


def fits(screen: Console, refits: Iterable[Refit]) -> None:
    """Say which kinds could be fitted, and which could not and why."""
    ended = list(refits)
    failed = [refit for refit in ended if not refit.went_well]
    paragraph(
        screen,
        f"Lives fitted from the records for {len(ended) - len(failed)} part kinds; the others go by the book.",
    )
    for refit in failed:
        problem = refit.job["problem"] or {}
        why = problem.get("detail") or problem.get("title") or refit.job["state"]
        paragraph(screen, f"Not fitted: {refit.kind.replace('_', ' ')}: {why}", hang=2)


def due_soon(screen: Console, items: Sequence[Json], as_of: date, within_days: int) -> None:
    """The fleet's list: safety parts, then the likeliest to fail; by when, and what waiting risks."""
    overdue = sum(item["status"] == "due now" for item in items)
    heading(screen, f"Due in the fleet within {within_days} days of {day(as_of)}")
    paragraph(screen, f"{len(items)} parts, {overdue} of them now.")
    safety = [item for item in items if item["safety"]]
    others = sorted((item for item in items if not item["safety"]), key=_chance, reverse=True)
    _due_table(screen, "Safety parts, longest due first", safety)
    _due_table(screen, "The others, likeliest to fail first", others)
    paragraph(
        screen,
        "* before its window closes, or within another year where it has closed; 80 % range in brackets. "
        f"The whole list: GET /v1/due-soon?as_of={as_of}&within_days={within_days}",
    )


def _due_table(screen: Console, title: str, items: Sequence[Json]) -> None:
    screen.print()
    shown = items[:_MOST_DUE]
    more = f" ({len(shown)} of {len(items)})" if len(items) > len(shown) else ""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold", width=WIDTH - 1)
    for column, width in (("Car", 10), ("Part", 23), ("Renew", 11), ("May end first*", 29)):
        table.add_column(column, width=width)
    for item in shown:
        table.add_row(item["vehicle_name"], part(item), when(item), odds(item["chance_to_window_end"]))
    screen.print(Text(title + more, style="italic"))
    screen.print(table if shown else "none")


def _chance(item: Json) -> float:
    return float(item["chance_to_window_end"]["mean"])


def schedule(screen: Console, car: Json, answer: Json, as_of: date) -> None:
    """One car's work with reasons: clocks, window, chance, evidence, cautions."""
    heading(
        screen, f"{car['name']}, {car['make']} {car['model']}, built {car['built']}: work from {day(as_of)}"
    )
    yearly = answer["yearly_distance"]
    if yearly is not None:
        paragraph(screen, f"Driven about {distance(yearly['likely'])} a year ({distance(yearly['low'])} to "
                  f"{distance(yearly['high'])}).")  # fmt: skip
    shown = answer["items"][:_MOST_SCHEDULED]
    for item in shown:
        safety = ", safety part" if item["safety"] else ""
        screen.print(Text(f"\n{part(item)}{safety}: {when(item, long=True)}", style="bold"))
        chance = item["chance_to_window_end"]
        paragraph(screen, f"Since fitting: {item['clocks']['words']}.", indent=2)
        paragraph(screen, item["reason"], indent=2)
        paragraph(
            screen, f"Chance of {item['chance_of']} by {day(chance['until'])}: {odds(chance)}.", indent=2
        )
        paragraph(screen, f"Evidence: {item['evidence']['words']}", indent=2)
    left = len(answer["items"]) - len(shown)
    if left > 0:
        screen.print()
        paragraph(screen, f"The other {left}: GET /v1/vehicles/{{id}}/schedule")
    _cautions(screen, shown)


def _cautions(screen: Console, items: Sequence[Json]) -> None:
    heading(screen, "Before anybody picks up a spanner")
    told: set[str] = set()
    for item in items:
        new = [text for text in item["cautions"] if text not in told]
        told.update(new)
        if new:
            paragraph(screen, f"- {item['part']}: {' '.join(map(sentence, new))}", hang=2)
    paragraph(
        screen,
        "The chances are estimates from records, not inspections: they never postpone a limit, and a part that looks or "
        "feels wrong comes out now. The maker's book and the law go before anything here.",
    )


def lessons(screen: Console, car: Json, told: Sequence[tuple[Line, Json]]) -> None:
    """What was renewed on this car without cure, and what the service makes of it.

    Args:
        screen: where to print.
        car: whose papers.
        told: the removals without cure, each with the life of that part's kind.
    """
    if not told:
        return
    heading(screen, f"What {car['name']}'s papers say of wrong guesses")
    for removal, life in told:
        kind = life["kind"].replace("_", " ")
        paragraph(screen, f'{removal["removed_on"]}, {kind}, on suspicion, not cured: "{removal["note"]}"')
        paragraph(
            screen,
            f"Counted as still good that day, not as failed. {kind.capitalize()}: {life['evidence']['words']}",
            indent=2,
        )


def open_case(screen: Console, car: Json, case: Json, step: Json) -> None:
    """A complaint that nobody has looked into yet: what to suspect, and what to do first."""
    heading(screen, f"An open complaint: {car['name']} {case['title']}")
    paragraph(screen, f'Noted on {day(case["noted_on"])}: "{case["note"]}"')
    for suspect in case["ranking"]["suspects"][:_MOST_SUSPECTS]:
        paragraph(screen, f"- {part(suspect)}: {suspect['odds']}. {suspect['reason']}.", hang=2)
    paragraph(screen, f"- something else: {case['ranking']['something_else']['odds']}.", hang=2)
    for words in (case["stop_driving"], case["warning"], step["reason"], step["dont_buy_yet"]):
        if words:
            paragraph(screen, words)


def how_to_go_on(screen: Console, folder: Path, command: str, week: str | None) -> None:
    """The commands with which to look further, and what there is to look at.

    Args:
        screen: where to print.
        folder: the demo's.
        command: how this program is called here.
        week: of the digest that was made; None: none was.
    """
    heading(screen, "Go on from here")
    paragraph(screen, "The service has stopped. To start it again on this fleet:")
    lines(screen, f"  {command} serve --database-url sqlite:///{folder}/wearwright.db")
    paragraph(
        screen,
        f"To look at it: http://127.0.0.1:8000/pages, signing in with the key to this fleet, which is in {folder}/key.txt. "
        + (
            ""
            if week is None
            else f"The digest of week {week} is there, and the open complaint on its car's sheet. "
        )
        + "Interactive docs: http://127.0.0.1:8000/docs. From the command line:",
    )
    lines(screen, f"  {command} due --key-file {folder}/key.txt")
    lines(
        screen,
        f'  curl -H "Authorization: Bearer $(cat {folder}/key.txt)" \\',
        "    http://127.0.0.1:8000/v1/due-soon",
    )


def lines(screen: Console, *texts: str) -> None:
    """Lines that somebody will copy: never wrapped."""
    for text in texts:
        screen.print(text, soft_wrap=True, markup=False, highlight=False)


def heading(screen: Console, text: str) -> None:
    """A title with room above it."""
    screen.print()
    screen.print(Text(text, style="bold underline"))


def paragraph(screen: Console, text: str, *, indent: int = 0, hang: int = 0) -> None:
    """Text wrapped at the paper's width."""
    pad = " " * indent
    filled = textwrap.fill(
        text,
        min(WIDTH, screen.width),
        initial_indent=pad,
        subsequent_indent=pad + " " * hang,
        break_on_hyphens=False,
    )
    screen.print(filled, markup=False, highlight=False)


def part(item: Json) -> str:
    """The part and where it sits."""
    return f"{item['part']}, {item['position']}" if item["position"] else str(item["part"])


def when(item: Json, *, long: bool = False) -> str:
    """The window in words: now, or from month to month."""
    window = item["window"]
    if item["status"] == "run to failure":
        return "when it fails; carry a spare"
    if item["status"] == "due now":
        return "now"
    first, last = month(window["earliest"]), month(window["latest"])
    text = first if first == last else f"{first} to {last}"
    return f"{text}, likely {month(window['likely'])}" if long else text


def odds(chance: Json) -> str:
    """The service's own words for a chance, short enough for a table: "1 in 12 (1 in 30 to 1 in 6)"."""
    found = _ODDS.match(chance["words"])
    if found is None:
        return str(chance["words"])
    middle, low, high = found.groups()
    return f"{middle} ({low} to {high})" if low else middle


def distance(given: Json) -> str:
    """5,200 mi."""
    return f"{given['value']:,.0f} {given['unit']}"


def sentence(text: str) -> str:
    """With a capital and a full stop."""
    return text[:1].upper() + text[1:] + ("" if text.endswith(".") else ".")


def day(when_: date | str) -> str:
    """14 Nov 2026."""
    on = date.fromisoformat(when_) if isinstance(when_, str) else when_
    return f"{on.day} {on:%b %Y}"


def month(when_: str | None) -> str:
    """Nov 2026; a dash where there is no date."""
    return f"{date.fromisoformat(when_):%b %Y}" if when_ else "–"
