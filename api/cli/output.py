"""What subcommands print: tables that fit the terminal, or JSON; notes and progress on standard error.

Text that somebody else wrote cannot move the cursor, colour the screen or turn the line around: see ``plain``.
"""

from __future__ import annotations

import json
import re
import sys
import unicodedata
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeAlias

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from pydantic import ValidationError

    from planner.progress import Progress as Tell

Row: TypeAlias = "Mapping[str, Any]"
"""One JSON object."""

_MOMENT = re.compile(r"^\d{4}-\d\d-\d\dT\d\d:\d\d:[\d.]+(Z|\+00:00)$")
_UNSEEN = {"Cc", "Cf", "Cs", "Co", "Zl", "Zp"}


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes:
        title: its heading.
        of: what stands in it: a field's name, with dots for fields within fields ("window.likely"), or a function of the row.
        right: for figures.
        keep: never wrapped (ids, dates); a table with too many of these does not fit.
    """

    title: str
    of: str | Callable[[Row], object]
    right: bool = False
    keep: bool = False

    def text(self, row: Row) -> str:
        """The cell of a row: a dash where there is nothing."""
        found = self.of(row) if callable(self.of) else field(row, self.of)
        return plain(worded(found))


def rows(
    found: Iterable[Row], columns: Sequence[Column], *, as_json: bool, none: str = "none", title: str = ""
) -> int:
    """Print a list: as one JSON array, item by item as they come, or as a table.

    Args:
        found: the items, each a JSON object.
        columns: of the table.
        as_json: print JSON, with all fields.
        none: the words for an empty list.
        title: above the table.

    Returns:
        How many there were.
    """
    if as_json:
        return _array(found)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold", title_justify="left")
    for column in columns:
        table.add_column(
            column.title,
            justify="right" if column.right else "left",
            no_wrap=column.keep,
            overflow="ignore" if column.keep else "fold",
        )
    for row in found:
        table.add_row(*(Text(column.text(row)) for column in columns))
    screen = _screen()
    if title:
        screen.print(Text(plain(title), style="italic"))
    screen.print(table if table.row_count else Text(none))
    return table.row_count


def record(found: Row, fields: Sequence[Column], *, as_json: bool) -> None:
    """Print one thing: as JSON with all fields, or field by field."""
    if as_json:
        value(found)
        return
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_header=False)
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    for each in fields:
        table.add_row(each.title, Text(each.text(found)))
    _screen().print(table)


def value(found: object) -> None:
    """Print JSON."""
    sys.stdout.write(json.dumps(found, indent=2, ensure_ascii=False, default=str) + "\n")


def lines(*texts: str) -> None:
    """Print text for people, wrapped at the terminal's width."""
    for text in texts:
        _screen().print(Text(plain(text)))


def forbidden(found: Iterable[Row], *, as_json: bool = False) -> None:
    """Print which cars nobody should drive before anything else; beside JSON, on standard error."""
    told = [str(one["words"]) for one in found]
    for words in told:
        if as_json:
            note(words)
        else:
            _screen().print(Text(plain(words), style="bold red"))
    if told and not as_json:
        lines("")


def note(text: str) -> None:
    """Say something beside the answer, on standard error."""
    sys.stderr.write(f"{plain(text)}\n")


def json_line(text: str) -> None:
    """Say something beside the answer as one JSON object, as the log's lines are."""
    sys.stderr.write(json.dumps({"event": text}, ensure_ascii=False) + "\n")


@contextmanager
def progress(what: str) -> Iterator[Tell]:
    """How far long work is, on standard error: a bar on a terminal, nothing elsewhere.

    Yields:
        the planner's kind of progress: call it with (done, total, what).
    """
    screen = Console(stderr=True)
    bar = Progress(
        TextColumn("{task.description}", markup=False), BarColumn(bar_width=20), MofNCompleteColumn(), TimeElapsedColumn(),
        console=screen, transient=True, disable=not screen.is_terminal,
    )  # fmt: skip
    with bar:
        task = bar.add_task(what, total=None)
        yield lambda done, total, doing: bar.update(
            task, completed=done, total=total or None, description=plain(doing or what)[:40]
        )


def field(row: Row, path: str) -> object:
    """A field of a row, "window.likely"; None where it or what holds it is missing."""
    found: Any = row
    for name in path.split("."):
        found = found.get(name) if isinstance(found, dict) else None
    return found


def worded(found: object) -> str:
    """A value as people write it: a dash for nothing, yes and no, 5,200 km, a moment to the minute."""
    match found:
        case None | "" | []:
            words = "–"
        case bool():
            words = "yes" if found else "no"
        case {"value": float() | int() as number, "unit": str(unit)}:
            words = f"{number:,.0f} {unit}"
        case list():
            words = ", ".join(map(worded, found))
        case float():
            words = f"{found:,.4g}"
        case int():
            words = f"{found:,}"
        case str() if _MOMENT.match(found):
            words = f"{found[:10]} {found[11:16]} UTC"
        case _:
            words = str(found)
    return words


def in_one_line(wrong: ValidationError) -> str:
    """What was wrong with values, each field by its name."""
    return "; ".join(f"{'.'.join(map(str, e['loc']))}: {e['msg']}" for e in wrong.errors())


def plain(text: str) -> str:
    """Text without characters that a terminal would obey or that turn the line around; each becomes "�"."""
    return "".join("�" if unicodedata.category(c) in _UNSEEN and c not in "\n\t" else c for c in text)


def _array(found: Iterable[Row]) -> int:
    count = 0
    for row in found:
        sys.stdout.write("[\n" if count == 0 else ",\n")
        sys.stdout.write(json.dumps(row, indent=2, ensure_ascii=False, default=str))
        count += 1
    sys.stdout.write("\n]\n" if count else "[]\n")
    return count


def _screen() -> Console:
    return Console(highlight=False, markup=False)
