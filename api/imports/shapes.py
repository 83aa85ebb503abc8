"""Rows of CSV or JSON Lines as columns by the names of their values, distances with their units."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from api.imports.cells import ABSENT
from api.problems import shown

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from api.imports.fields import Kind
    from api.imports.texts import Row
    from planner.units import DistanceUnit

Numbered = tuple[int, "Row"]
"""A row with its number in the file, as a spreadsheet shows it: the head of CSV is row 1, of JSON Lines it is the line."""

UNREADABLE = "row"
"""What a fault of a whole row names."""


class Fault(NamedTuple):
    """One thing wrong with one row, as in a problem document."""

    row: int
    field: str
    wanted: str
    got: str


@dataclass
class Columns:
    """Rows as columns.

    Attributes:
        numbers: of the rows in the file.
        said: each row as it came, for what only the schema can judge: an object of JSON Lines, or a CSV row's texts.
        cells: columns by the name of the value.
        odd: places of rows that only the schema can judge.
        faults: of rows that cannot be read, by their place.
    """

    numbers: list[int]
    said: list[Any]
    cells: dict[str, list[Any]] = field(default_factory=dict)
    odd: set[int] = field(default_factory=set)
    faults: dict[int, Fault] = field(default_factory=dict)

    @property
    def nothing(self) -> Any:
        """What stands where a row says nothing: a CSV cell is there and empty."""
        return None if self.said and isinstance(self.said[0], list) else ABSENT

    def blame(self, place: int, name: str, wanted: str, got: str) -> None:
        """Note a row as one that cannot be read."""
        self.faults.setdefault(place, Fault(self.numbers[place], name, wanted, got))


def csv_columns(rows: Sequence[tuple[int, list[str] | Row]], names: Sequence[str | None]) -> Columns:
    """Rows of CSV as columns of stripped texts, None where empty.

    Args:
        rows: of the file.
        names: what each of its columns gives; None: left aside.
    """
    width = len(names)
    found = Columns([number for number, _ in rows], [row for _, row in rows])
    if set(map(type, found.said)) != {list} or set(map(len, found.said)) != {width}:
        _blame_shapes(found, width)
    for name, column in zip(names, zip(*found.said, strict=True), strict=True):
        if name is not None:
            found.cells[name] = [cell.strip() or None for cell in column]
    return found


def _blame_shapes(found: Columns, width: int) -> None:
    """Note rows that are not as wide as the head."""
    for place, row in enumerate(found.said):
        if not isinstance(row, list):
            found.blame(place, UNREADABLE, "a row of CSV, every quote closed", row.fault)
        elif len(row) != width:
            found.blame(place, UNREADABLE, f"{width} columns, as in the head", f"{len(row)}")
        else:
            continue
        found.said[place] = [""] * width


def json_columns(
    rows: Sequence[Numbered], kind: Kind, mapping: Mapping[str, str | None], *, leave_aside: bool
) -> Columns:
    """Objects of JSON Lines as columns of their values, `ABSENT` where a row does not have the name.

    Args:
        rows: of the file.
        kind: of the records.
        mapping: values by names of the sender's own; None: left aside.
        leave_aside: drop names that nobody knows; otherwise their row is refused.
    """
    found = Columns([number for number, _ in rows], [{} for _ in rows])
    known = set(kind.names) | {name for name in mapping.values() if name}
    tops = {name.partition(".")[0] for name in kind.names}
    for place, (_, row) in enumerate(rows):
        if row.fault:
            found.blame(place, UNREADABLE, "one JSON object in a line", row.fault)
            continue
        said = {mapping.get(name, name): value for name, value in row.cells.items()}
        said.pop(None, None)
        found.said[place] = said
        for name, value in _flat(said, kind):
            if name in known:
                found.cells.setdefault(name, [ABSENT] * len(rows))[place] = value
            elif leave_aside and name.partition(".")[0] not in tops:
                said.pop(name, None)
            else:
                found.odd.add(place)
    return found


def _flat(said: Mapping[str | None, Any], kind: Kind, before: str = "") -> list[tuple[str, Any]]:
    """Values with dotted names; only parts that bodies of this kind have are opened."""
    values: list[tuple[str, Any]] = []
    for name, value in said.items():
        path = f"{before}{name}"
        if isinstance(value, dict) and any(
            part == path or part.startswith(f"{path}.") for part in kind.groups
        ):
            values += _flat(value, kind, f"{path}.")
        else:
            values.append((path, value))
    return values


def with_units(columns: Columns, kind: Kind, unit: DistanceUnit | None) -> None:
    """Give each distance a figure and a unit: of its own column, of the figure's name ("reading.km"), or the file's."""
    for leaf in kind.leaves.values():
        if leaf.distance is None:
            continue
        for named in ("km", "mi"):
            if f"{leaf.distance}.{named}" in columns.cells:
                _take_named(columns, leaf.distance, named)
        figures = columns.cells.get(f"{leaf.distance}.value")
        if figures is not None:
            _fill_units(columns, f"{leaf.distance}.unit", figures, unit)


def _fill_units(columns: Columns, name: str, figures: list[Any], unit: DistanceUnit | None) -> None:
    """A unit for every figure that has none, and none where no figure is."""
    units = columns.cells.get(name)
    if units is None and unit is not None and None not in figures and ABSENT not in figures:
        columns.cells[name] = [unit] * len(figures)
        return
    nothing = columns.nothing
    units = [nothing] * len(figures) if units is None else units
    columns.cells[name] = [
        nothing if figure is nothing else (unit or one if one is None or one is ABSENT else one)
        for figure, one in zip(figures, units, strict=True)
    ]


def _take_named(columns: Columns, distance: str, unit: str) -> None:
    nothing, column = columns.nothing, columns.cells.pop(f"{distance}.{unit}")
    figures = columns.cells.setdefault(f"{distance}.value", [nothing] * len(column))
    units = columns.cells.setdefault(f"{distance}.unit", [nothing] * len(column))
    for place, cell in enumerate(column):
        if cell is None or cell is ABSENT:
            continue
        if figures[place] is not None and figures[place] is not ABSENT:
            got = f"{shown(figures[place])} and {shown(cell)}"
            columns.blame(place, distance, "one figure: in km, in miles or with its unit", got)
        figures[place], units[place] = cell, unit
        if isinstance(columns.said[place], dict):
            columns.said[place].pop(f"{distance}.{unit}", None)
