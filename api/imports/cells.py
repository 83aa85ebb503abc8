"""Values of one column: text of a CSV cell into JSON's types, and what is plainly right told from what the schema must see."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

from pydantic import ValidationError

from api.imports.formulas import restored

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.imports.fields import Leaf

ABSENT: Any = type("Absent", (), {"__repr__": lambda _: "ABSENT", "__bool__": lambda _: False})()
"""No such name in this row of the file (JSON tells it from null)."""

DayStyle = Literal["iso", "day first", "month first"]

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,18}", re.ASCII)
_NUMERIC_DAY = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})", re.ASCII)
_BETWEEN_NAMES = re.compile(r"\s*[\s,;]\s*")
_TRUTHS = dict.fromkeys(("true", "yes", "y", "1", "x"), True) | dict.fromkeys(
    ("false", "no", "n", "0"), False
)
_UNITS = dict.fromkeys(
    ("km", "kms", "kilometre", "kilometres", "kilometer", "kilometers"), "km"
) | dict.fromkeys(("mi", "mile", "miles", "mls"), "mi")
_MEMORY = 50_000
"""How many different values of one column are remembered as judged."""


@dataclass(frozen=True)
class Writing:
    """How values are written in a file.

    Attributes:
        text: every value comes as text (CSV); otherwise as JSON's own types.
        days: how days are written.
        decimal_comma: whether numbers have a comma for a point.
    """

    text: bool
    days: DayStyle = "iso"
    decimal_comma: bool = False


@dataclass
class Cells:
    """The column of one value through a whole file; values seen before are not judged again.

    Attributes:
        leaf: which value.
        writing: how it is written.
    """

    leaf: Leaf
    writing: Writing
    _known: dict[Any, Any] = field(default_factory=dict)

    def judged(self, column: Sequence[Any]) -> tuple[list[Any], set[int]]:
        """The column as the schema keeps it, and places that are not plainly right: only the schema can tell there.

        Args:
            column: stripped text or None where empty (CSV); JSON's values or `ABSENT`.
        """
        if self.leaf.form == "number":
            return self._numbers(column)
        if self.leaf.form == "text":
            return self._texts(column)
        return self._by_schema(column)

    def plain(self, cell: Any) -> Any:
        """One cell in JSON's types, for the schema to judge; text that is no such value stays as it is."""
        if not self.writing.text or not isinstance(cell, str):
            return cell
        match self.leaf.form:
            case "number":
                text = cell.replace(",", ".") if self.writing.decimal_comma else cell
                return float(text) if _NUMBER.fullmatch(text) else cell
            case "whole":
                return int(cell) if _WHOLE.fullmatch(cell) else cell
            case "truth":
                return _TRUTHS.get(cell.lower(), cell)
            case "text" | "names":
                text = restored(cell)
                return text if self.leaf.form == "text" else _BETWEEN_NAMES.split(text)
        return self._chosen(restored(cell))

    def wanted(self, by_the_schema: str) -> str:
        """What a cell that the schema refuses should have said, where this file writes such values in its own way."""
        if "ISO 8601" in by_the_schema and self.writing.days != "iso":
            own = "17.05.1998" if self.writing.days == "day first" else "05/17/1998"
            return f"{by_the_schema}; or a day of the calendar written {self.writing.days}: {own}"
        if self.leaf.form == "number" and self.writing.decimal_comma and by_the_schema.endswith("number"):
            return f"{by_the_schema} with a comma before its decimals and nothing between thousands: 50000,5"
        return by_the_schema

    def _chosen(self, cell: str) -> str:
        """A unit, a choice in any case, a day in the file's own style."""
        if self.leaf.field in {"unit", "distance_unit"}:
            return _UNITS.get(cell.lower(), cell)
        choices = _choices(self.leaf)
        if choices:
            return next((choice for choice in choices if choice.lower() == cell.lower()), cell)
        day = None if self.writing.days == "iso" else _NUMERIC_DAY.fullmatch(cell)
        if day is None:
            return cell
        first, second, year = day.groups()
        on, month = (first, second) if self.writing.days == "day first" else (second, first)
        return f"{year}-{int(month):02d}-{int(on):02d}"

    def _numbers(self, column: Sequence[Any]) -> tuple[list[Any], set[int]]:
        values: list[Any] = []
        if self.writing.text and not self.writing.decimal_comma:
            try:
                values = list(map(float, column))
            except (TypeError, ValueError):
                values = []
            joined = "".join(column) if values else ""
            if "_" in joined or not joined.isascii():
                values = []
        if not values:
            values = [self.plain(cell) for cell in column]
        low, high = self.leaf.low, self.leaf.high
        if all(type(value) is float for value in values) and low <= min(values) and max(values) <= high:
            return values, set() if not any(map(math.isnan, values)) else self._odd(values)
        return values, self._odd(values)

    def _odd(self, values: Sequence[Any]) -> set[int]:
        low, high = self.leaf.low, self.leaf.high
        return {
            place
            for place, value in enumerate(values)
            if not self._left_out(value) and not (type(value) in (float, int) and low <= value <= high)
        }

    def _left_out(self, value: Any) -> bool:
        return value is ABSENT or (value is None and (self.leaf.nullable or self.writing.text))

    def _texts(self, column: Sequence[Any]) -> tuple[list[Any], set[int]]:
        low, high = max(self.leaf.low, 0), self.leaf.high
        plain = self.writing.text and None not in column and "'" not in "".join(column)
        values = list(column) if plain else [self.plain(cell) for cell in column]
        if set(map(type, values)) == {str}:
            lengths = [len(value) for value in values]
            joined = "".join(values)
            stripped = sum(lengths) == sum(map(len, map(str.strip, values)))
            if (
                low <= min(lengths)
                and max(lengths) <= high
                and "\x00" not in joined
                and joined.isascii()
                and stripped
            ):
                return values, set()
        odd = {
            place
            for place, value in enumerate(values)
            if not (self._left_out(value) or self._plain_text(value))
        }
        return values, odd

    def _plain_text(self, value: Any) -> bool:
        if type(value) is not str or not max(self.leaf.low, 0) <= len(value) <= self.leaf.high:
            return False
        return value == value.strip() and "\x00" not in value and not broken(value)

    def _by_schema(self, column: Sequence[Any]) -> tuple[list[Any], set[int]]:
        keys = (
            column if self.leaf.form == "judged" else [(type(cell), cell) for cell in column]
        )  # 1 is not true
        try:
            new = dict(zip(keys, column, strict=True))
        except TypeError:  # a list or an object where a value should be
            return [_ODD] * len(column), set(range(len(column)))
        for key in new.keys() - self._known.keys():
            self._known[key] = self._one(new[key])
        values = [self._known[key] for key in keys]
        odd = {place for place, value in enumerate(values) if value is _ODD} if _ODD in values else set()
        if len(self._known) > _MEMORY:
            self._known.clear()
        return values, odd

    @cached_property
    def _blank(self) -> Any:
        """A body to try values in; each overwrites the last."""
        return self.leaf.body.model_construct()

    def _one(self, cell: Any) -> Any:
        if self._left_out(cell):
            return cell
        plain = self.plain(cell)
        if not self.writing.text and type(cell) is not {"truth": bool, "whole": int}.get(self.leaf.form, str):
            return _ODD
        try:
            body = self.leaf.body.__pydantic_validator__.validate_assignment(
                self._blank, self.leaf.field, plain
            )
        except ValidationError:
            return _ODD
        return getattr(body, self.leaf.field)


_ODD: Any = object()


def broken(text: str) -> bool:
    """Whether bytes in a text could not be decoded: they stand as lone surrogates."""
    if text.isascii():
        return False
    return any("\ud800" <= sign <= "\udfff" for sign in text)


def _choices(leaf: Leaf) -> tuple[str, ...]:
    annotation = leaf.body.model_fields[leaf.field].annotation
    for part in (annotation, *get_args(annotation)):
        if get_origin(part) is Literal:
            return get_args(part)
    return ()
