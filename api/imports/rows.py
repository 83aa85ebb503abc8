"""Rows of a file judged some thousand at a time: plainly right ones by columns, every other one by the JSON routes' own schema."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from api.imports.cells import ABSENT, Cells, broken
from api.imports.whole import judged_whole
from api.problems import shown
from planner.history.dates import UncertainDate
from planner.units import KM_PER_MILE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.imports.cells import Writing
    from api.imports.fields import Kind
    from api.imports.shapes import Columns, Fault

_LONGEST_REF = 200


@dataclass
class Judged:
    """Rows that can be taken as far as each alone says, as columns; and the faults of the others.

    Attributes:
        numbers: of the rows in the file.
        parents: what each belongs to, by the name that the file gives it; empty for cars.
        refs: external references; made from the row where it has none.
        values: by the column in which they are stored.
        named: columns that each row speaks of; the others stay as they are where the record is stored already.
        faults: of the rows that cannot be taken.
    """

    numbers: list[int] = field(default_factory=list)
    parents: list[str] = field(default_factory=list)
    refs: list[str] = field(default_factory=list)
    values: dict[str, list[Any]] = field(default_factory=dict)
    named: list[frozenset[str]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


class Judge:
    """Judges the rows of one file.

    Args:
        kind: of the records.
        writing: how values are written.
        today: no record may be later.
    """

    def __init__(self, kind: Kind, writing: Writing, today: date) -> None:
        self.kind = kind
        self.writing = writing
        self.today = today
        self.cells = {path: Cells(leaf, writing) for path, leaf in kind.leaves.items()}
        self._defaults = {path: _default(kind, path) for path in kind.leaves}

    def judge(self, columns: Columns) -> Judged:
        """Judge some rows."""
        _blame_orphans(columns, self.kind.parent_ref)
        values: dict[str, list[Any]] = {}
        odd = set(columns.odd)
        for path, cells in self.cells.items():
            if path in columns.cells:
                values[path], strange = cells.judged(columns.cells[path])
                odd |= strange
        odd |= self._together(values, len(columns.numbers)) | self._incomplete(values, len(columns.numbers))
        odd -= columns.faults.keys()
        found = self._plain(columns, values, odd)
        for place in sorted(odd):
            self._whole(columns, place, found)
        found.faults.extend(columns.faults.values())
        _derive(self.kind, found.values)
        return found

    def _together(self, values: dict[str, list[Any]], count: int) -> set[int]:
        """Rows with values that the schema judges together, and those with a day to come."""
        if self.kind.judged_whole:
            return set(range(count))
        odd: set[int] = set()
        for names in self.kind.crossing:
            parts = [values[name] for name in names if name in values]
            if len(parts) == len(names):
                odd |= {
                    place for place, cells in enumerate(zip(*parts, strict=True)) if all(map(_given, cells))
                }
        for name in self.kind.days:
            late = {
                day
                for day in set(values.get(name, ()))
                if isinstance(day, str | date) and _first(day) > self.today
            }
            if late:
                odd |= {place for place, day in enumerate(values[name]) if day in late}
        return odd

    def _incomplete(self, values: dict[str, list[Any]], count: int) -> set[int]:
        """Rows that lack what the body, or a part of it that they begin, cannot do without."""
        odd: set[int] = set()
        for group, leaves in self.kind.parts.items():
            needed = [values.get(leaf.path) for leaf in leaves if leaf.required]
            columns = [values[leaf.path] for leaf in leaves if leaf.path in values]
            if all(column is not None and None not in column and ABSENT not in column for column in needed):
                continue
            demanded = self.kind.demands(group)
            for place in range(count):
                begun = demanded or any(_given(column[place]) for column in columns)
                if begun and not all(column is not None and _given(column[place]) for column in needed):
                    odd.add(place)
        return odd

    def _plain(self, columns: Columns, values: dict[str, list[Any]], odd: set[int]) -> Judged:
        """The rows that need no second look, as columns."""
        out = odd | columns.faults.keys()
        count = len(columns.numbers)
        places: Sequence[int] = [place for place in range(count) if place not in out] if out else range(count)

        def chosen(column: list[Any]) -> list[Any]:
            return [column[place] for place in places] if out else list(column)

        found = Judged(numbers=chosen(columns.numbers))
        for path, leaf in self.kind.leaves.items():
            default = self._defaults[path]
            column = chosen(values[path]) if path in values else [default] * len(places)
            if None in column or ABSENT in column:
                column = [cell if _given(cell) else default for cell in column]
            found.values[leaf.column] = column
        given = found.values.pop("external_ref")
        found.refs = [ref or _made_ref(columns.said[place]) for ref, place in zip(given, places, strict=True)]
        found.named = self._named(values, places)
        found.parents = (
            chosen(columns.cells[self.kind.parent_ref]) if self.kind.parent_ref else [""] * len(places)
        )
        return found

    def _named(self, values: dict[str, list[Any]], places: Sequence[int]) -> list[frozenset[str]]:
        if self.writing.text:
            return [frozenset(self.kind.leaves[path].column for path in values)] * len(places)
        return [
            frozenset(
                self.kind.leaves[path].column
                for path, column in values.items()
                if column[place] is not ABSENT
            )
            for place in places
        ]

    def _whole(self, columns: Columns, place: int, found: Judged) -> None:
        """One row by the schema."""
        number = columns.numbers[place]
        row = judged_whole(self, columns, place)
        if isinstance(row, list):
            found.faults.extend(row)
            return
        ref = row.values.pop("external_ref")
        found.numbers.append(number)
        found.refs.append(ref or _made_ref(columns.said[place]))
        found.named.append(row.named)
        found.parents.append(columns.cells[self.kind.parent_ref][place] if self.kind.parent_ref else "")
        for name, column in found.values.items():
            column.append(row.values[name])


def _blame_orphans(columns: Columns, name: str | None) -> None:
    """Note rows that do not say what they belong to."""
    if name is None:
        return
    cells = columns.cells.setdefault(name, [columns.nothing] * len(columns.numbers))
    texts = {ref for ref in cells if type(ref) is str}
    good = {ref for ref in texts if 1 <= len(ref) <= _LONGEST_REF and "\x00" not in ref and not broken(ref)}
    if len(good) == len(texts) and all(type(ref) is str for ref in cells):
        return
    for place, ref in enumerate(cells):
        if type(ref) is not str or ref not in good:
            got = "nothing" if not _given(ref) else shown(ref)
            wanted = f"text of 1 to {_LONGEST_REF} characters: what the record belongs to"
            columns.blame(place, name, wanted, got)


def _given(cell: Any) -> bool:
    return cell is not None and cell is not ABSENT


def _default(kind: Kind, path: str) -> Any:
    leaf = kind.leaves[path]
    info = leaf.body.model_fields[leaf.field]
    return None if info.is_required() else info.default


def _first(day: date | str) -> date:
    return uncertain(day).earliest if isinstance(day, str) else day


@lru_cache(maxsize=50_000)
def uncertain(text: str) -> UncertainDate:
    """The days that a text stands for."""
    return UncertainDate.parse(text)


def _derive(kind: Kind, values: dict[str, list[Any]]) -> None:
    """Columns that are stored beside what is said."""
    if kind.name == "odometer-readings":
        figures = zip(values["reading_value"], values["reading_unit"], strict=True)
        values["km_total"] = [figure * KM_PER_MILE if unit == "mi" else figure for figure, unit in figures]
    if kind.name == "fitments":
        values["position"] = [position or "" for position in values["position"]]
        values["in_service"] = [True] * len(values["position"])
    for name in {"fitments": ("fitted_on",), "removals": ("removed_on",)}.get(kind.name, ()):
        days = [None if text is None else uncertain(text) for text in values[name]]
        for end in ("earliest", "likely", "latest"):
            values[name.replace("_on", f"_{end}")] = [
                None if day is None else getattr(day, end) for day in days
            ]


def _made_ref(said: Any) -> str:
    """A reference for a row that has none: the same for the same row, so that a file sent twice is stored once."""
    text = "\x1f".join(said) if isinstance(said, list) else json.dumps(said, sort_keys=True)
    return "row-" + hashlib.blake2b(text.encode("utf-8", "surrogateescape"), digest_size=16).hexdigest()
