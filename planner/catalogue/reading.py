"""Reads fields of TOML tables and refuses what is missing, malformed or unknown, naming file, entry and field."""

from __future__ import annotations

import math
import tomllib
from typing import TYPE_CHECKING, Any, TypeVar

from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

_T = TypeVar("_T", bound=str)


def parse_toml(text: str, file: str) -> Table:
    """The root table of one file.

    Raises:
        CatalogueError: the text is no TOML; `field` is the file's name.
    """
    try:
        return Table(tomllib.loads(text), file)
    except tomllib.TOMLDecodeError as error:
        raise CatalogueError(file, "valid TOML", str(error)) from error


class Table:
    """One table: typed getters, each of which marks its key as known; `close` refuses the rest.

    Attributes:
        where: file and path of the table, the start of every error's field name.
    """

    __slots__ = ("_data", "_known", "where")

    def __init__(self, data: Mapping[str, Any], where: str) -> None:
        self._data = data
        self._known: set[str] = set()
        self.where = where

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def __iter__(self) -> Iterator[str]:
        return iter(self._data)

    def refuse(self, key: str, wanted: str, got: object) -> CatalogueError:
        """The error for one field, ready to raise."""
        return CatalogueError(f"{self.where}: {key}", wanted, got)

    def close(self) -> None:
        """Refuse keys that nobody asked for: a misspelt field must not pass unseen."""
        unknown = [key for key in self._data if key not in self._known]
        if unknown:
            raise self.refuse(unknown[0], "no such field", self._data[unknown[0]])

    def text(self, key: str, default: str | None = None) -> str:
        """A text; non-empty where no default is given."""
        value = self._take(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            raise self.refuse(key, "a non-empty text", value)
        return value

    def choice(self, key: str, allowed: Sequence[_T], default: _T | None = None) -> _T:
        """One of the allowed texts."""
        value = self._take(key, default)
        for option in allowed:
            if value == option:
                return option
        raise self.refuse(key, f"one of {', '.join(allowed)}", value)

    def number(self, key: str, low: float, high: float = math.inf, default: float | None = None) -> float:
        """A finite number from low to high."""
        return self._number(key, self._take(key, default), low, high)

    def optional_number(self, key: str, low: float, high: float = math.inf) -> float | None:
        """A finite number from low to high, or None where the field is absent."""
        if key not in self:
            return None
        return self.number(key, low, high)

    def numbers(self, key: str, count: int, low: float, high: float) -> tuple[float, ...]:
        """Exactly `count` numbers from low to high, rising or level."""
        values = self._take(key, None)
        if not isinstance(values, list) or len(values) != count:
            raise self.refuse(key, f"a list of {count} numbers", values)
        checked = tuple(self._number(key, value, low, high) for value in values)
        if list(checked) != sorted(checked):
            raise self.refuse(key, "numbers in rising order", values)
        return checked

    def figures(self, key: str, count: int) -> tuple[float, ...]:
        """Exactly `count` finite numbers in any order, none negative."""
        values = self._take(key, None)
        if not isinstance(values, list) or len(values) != count:
            raise self.refuse(key, f"a list of {count} numbers", values)
        return tuple(self._number(key, value, 0.0, math.inf) for value in values)

    def flag(self, key: str, default: bool | None = None) -> bool:
        """True or false."""
        value = self._take(key, default)
        if not isinstance(value, bool):
            raise self.refuse(key, "true or false", value)
        return value

    def texts(self, key: str, *, needed: bool = False) -> tuple[str, ...]:
        """A list of non-empty texts, each once; empty where absent unless it is needed."""
        values = self._take(key, None if needed else [])
        if not isinstance(values, list) or (needed and not values):
            raise self.refuse(key, "a list of texts", values)
        for value in values:
            if not isinstance(value, str) or not value.strip():
                raise self.refuse(key, "non-empty texts", value)
        if len(set(values)) != len(values):
            raise self.refuse(key, "each text once", values)
        return tuple(values)

    def choices(self, key: str, allowed: Sequence[_T], *, needed: bool = False) -> tuple[_T, ...]:
        """A list out of the allowed texts, in the order of `allowed`."""
        values = self.texts(key, needed=needed)
        for value in values:
            if value not in allowed:
                raise self.refuse(key, f"texts out of {', '.join(allowed)}", value)
        return tuple(option for option in allowed if option in values)

    def table(self, key: str) -> Table | None:
        """A table inside this one, or None where it is absent."""
        if key not in self:
            return None
        value = self._take(key, None)
        if not isinstance(value, dict):
            raise self.refuse(key, "a table", value)
        return Table(value, f"{self.where}: {key}")

    def named_tables(self, key: str) -> Iterator[tuple[str, Table]]:
        """The tables below one key, with their names; at least one."""
        values = self._take(key, None)
        if not isinstance(values, dict) or not values:
            raise self.refuse(key, "at least one table", values)
        for name, value in values.items():
            if not isinstance(value, dict):
                raise self.refuse(name, "a table", value)
            yield name, Table(value, f"{self.where}: {name}")

    def list_of_tables(self, key: str) -> list[Table]:
        """A list of tables; at least one."""
        values = self._take(key, None)
        if not isinstance(values, list) or not values or not all(isinstance(v, dict) for v in values):
            raise self.refuse(key, "a list of tables, at least one", values)
        return [Table(value, f"{self.where}: {key}[{i}]") for i, value in enumerate(values)]

    def _take(self, key: str, default: Any) -> Any:
        self._known.add(key)
        if key not in self._data:
            if default is None:
                raise self.refuse(key, "a value", None)
            return default
        return self._data[key]

    def _number(self, key: str, value: object, low: float, high: float) -> float:
        wanted = (
            f"a number from {low:g} to {high:g}"
            if high < math.inf
            else f"a finite number of at least {low:g}"
        )
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.refuse(key, wanted, value)
        if not low <= value <= high:
            raise self.refuse(key, wanted, value)
        return float(value)
