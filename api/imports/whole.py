"""One row judged as a whole, by the schema of its JSON route and the planner's rules for such a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from api.bridge import records
from api.imports.cells import ABSENT, broken
from api.imports.shapes import Fault
from api.problems import shown
from api.web.refusals import entry
from planner.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from api.imports.rows import Judge
    from api.imports.shapes import Columns
    from api.schemas import Body
    from planner.history.record_base import Record

_RECORDS: dict[str, Callable[[Any], Record]] = {
    "vehicles": records.vehicle_record,
    "odometer-readings": records.reading_record,
    "fitments": records.fitment_record,
    "inspections": records.inspection_record,
    "repairs": records.repair_record,
    "removals": records.removal_record,
}


@dataclass(frozen=True)
class WholeRow:
    """A row that can be taken.

    Attributes:
        values: by the column in which they are stored.
        named: columns that the row speaks of.
    """

    values: dict[str, Any]
    named: frozenset[str]


def judged_whole(judge: Judge, columns: Columns, place: int) -> WholeRow | list[Fault]:
    """One row, or its faults."""
    row = _judged(judge, columns, place)
    if isinstance(row, WholeRow) or not judge.writing.text:
        return row
    return [_as_in_the_file(judge, columns, place, fault) for fault in row]


def _judged(judge: Judge, columns: Columns, place: int) -> WholeRow | list[Fault]:
    number = columns.numbers[place]
    said = _from_cells(judge, columns, place) if judge.writing.text else _from_object(judge, columns, place)
    bad = next(((name, text) for name, text in _texts(said) if broken(text)), None)
    if bad is not None:
        return [Fault(number, bad[0], "text in the file's encoding", shown(bad[1]))]
    try:
        body = judge.kind.body.model_validate(said)
        values = {leaf.column: _value(body, path) for path, leaf in judge.kind.leaves.items()}
        _RECORDS[judge.kind.name](judge.kind.table(id="-", **values)).refuse_future(judge.today)
    except ValidationError as error:
        return [Fault(number, **_words(found)) for found in error.errors()]
    except RecordError as error:
        return [Fault(number, error.field, error.wanted, shown(error.got))]
    return WholeRow(values, _named(judge, columns, place))


def _as_in_the_file(judge: Judge, columns: Columns, place: int, fault: Fault) -> Fault:
    """A fault of a CSV row with what stood in its cell, and with how this file writes such a value."""
    cells = columns.cells.get(fault.field)
    if cells is None or cells[place] is None:
        return fault
    return fault._replace(got=shown(cells[place]), wanted=judge.cells[fault.field].wanted(fault.wanted))


def _words(found: Any) -> dict[str, str]:
    return {name: shown(text, limit=400) for name, text in entry(found).items()}


def _from_cells(judge: Judge, columns: Columns, place: int) -> dict[str, Any]:
    """The body that a CSV row says; an empty cell says nothing."""
    said: dict[str, Any] = {}
    for path, cells in judge.cells.items():
        cell = columns.cells[path][place] if path in columns.cells else None
        if cell is not None:
            _put(said, path, cells.plain(cell))
    return said


def _from_object(judge: Judge, columns: Columns, place: int) -> dict[str, Any]:
    """The body that an object of JSON Lines says, names that nobody knows included."""
    said: dict[str, Any] = {}
    for name, value in columns.said[place].items():
        if name != judge.kind.parent_ref:
            _put(said, name, value)
    for leaf in judge.kind.leaves.values():  # units that the file, or a figure's name, gives
        cell = columns.cells[leaf.path][place] if leaf.path in columns.cells else ABSENT
        if cell is not ABSENT and leaf.field in {"value", "unit"} and leaf.group:
            _put(said, leaf.path, cell)
    return said


def _put(said: dict[str, Any], path: str, value: Any) -> None:
    *before, last = path.split(".")
    for part in before:
        inner = said.setdefault(part, {})
        if not isinstance(inner, dict):
            return
        said = inner
    if isinstance(value, dict) and isinstance(said.get(last), dict):
        said[last].update(value)
    else:
        said[last] = dict(value) if isinstance(value, dict) else value


def _texts(said: dict[str, Any], before: str = "") -> Iterator[tuple[str, str]]:
    for name, value in said.items():
        if isinstance(value, dict):
            yield from _texts(value, f"{before}{name}.")
        elif isinstance(value, str):
            yield f"{before}{name}", value


def _value(body: Body, path: str) -> Any:
    value: Any = body
    for name in path.split("."):
        value = None if value is None else getattr(value, name)
    return value


def _named(judge: Judge, columns: Columns, place: int) -> frozenset[str]:
    leaves = judge.kind.leaves
    return frozenset(
        leaves[path].column
        for path, cells in columns.cells.items()
        if path in leaves and (judge.writing.text or cells[place] is not ABSENT)
    )
