"""The settings that parts lived under: one for a whole life, or stretches of it in different ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import is_masked, numbers
from planner.errors import InputError
from planner.history.spell_columns import frozen
from planner.life.modifiers.virtual_rows import Stretches

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import BoolArray, Clock, FloatArray, Spells
    from planner.life.row_parts import IntArray


@dataclass(frozen=True, eq=False)
class Settings:
    """Settings of the rows of spells, stretch by stretch.

    Make one with :meth:`steady_from` or :meth:`changing`, which check what they are given.

    Attributes:
        starts: first stretch of each row, (rows,).
        x: setting of each stretch, (stretches, modifiers).
        begin: clocks at which each begins, (stretches, clocks).
        rows: how many rows.
    """

    starts: IntArray
    x: FloatArray
    begin: FloatArray

    @classmethod
    def steady_from(cls, x: ArrayLike, clocks: int) -> Settings:
        """One setting for the whole life of every row: (rows, modifiers).

        Raises:
            InputError: not a table of finite numbers.
        """
        table = _table("settings", x, 2)
        return cls(np.arange(len(table)), table, np.zeros((len(table), clocks)))

    @classmethod
    def changing(
        cls,
        row: ArrayLike,
        x: ArrayLike,
        from_km: ArrayLike | None = None,
        from_years: ArrayLike | None = None,
    ) -> Settings:
        """Settings that change in mid-life.

        Args:
            row: the row of each stretch, counted from 0, in order and none left out, (stretches,).
            x: setting in each stretch, (stretches, modifiers).
            from_km: km since new at which each begins, 0 for the first of a row; left out without a distance clock.
            from_years: years since new at which each begins, likewise.

        Raises:
            InputError: naming the argument.
        """
        rows = np.asarray(row)
        if is_masked(row) or rows.ndim != 1 or not rows.size or rows.dtype.kind not in "iu":
            raise InputError("row", "whole numbers", row)
        starts = np.flatnonzero(np.append(True, np.diff(rows) != 0))
        if not np.array_equal(rows[starts], np.arange(len(starts))):
            raise InputError("row", "rows from 0 in order, none left out", row)
        table = _table("x", x, 2)
        if len(table) != len(rows):
            raise InputError("x", f"{len(rows)} rows, one for each stretch", table.shape)
        named = {"from_km": from_km, "from_years": from_years}
        begins = [
            _begin(name, given, starts, len(rows)) for name, given in named.items() if given is not None
        ]
        if not begins:
            raise InputError("from_km, from_years", "where each stretch begins", None)
        return cls(starts, table, np.stack(begins, axis=1))

    def __len__(self) -> int:
        return len(self.starts)

    def steady(self, spells: Spells) -> tuple[BoolArray, FloatArray]:
        """Which rows kept one setting as long as they were watched, and the first setting of every row."""
        first = self.x[self.starts]
        runs = np.diff(np.append(self.starts, len(self.x)))
        differs = (self.x != np.repeat(first, runs, axis=0)).any(axis=1)
        reached = np.zeros(len(self.x), dtype=bool)
        for c, bounds in enumerate(spells.bounds):
            last = np.where(np.isfinite(bounds.upper), bounds.upper, bounds.lower)
            reached |= np.repeat(last, runs) > self.begin[:, c]
        changed: BoolArray = np.logical_or.reduceat(differs & reached, self.starts)
        return ~changed, first

    def stretches(self, rows: BoolArray) -> Stretches:
        """The stretches of some rows."""
        runs = np.diff(np.append(self.starts, len(self.x)))
        kept = np.repeat(rows, runs)
        own = runs[rows]
        starts = np.cumsum(own) - own
        begin = self.begin[kept]
        end = np.vstack([begin[1:], np.full((1, begin.shape[1]), np.inf)])
        end[np.append(starts[1:], len(begin)) - 1] = np.inf
        return Stretches(starts, self.x[kept], begin, end)


def settings_of(
    given: ArrayLike | Settings, rows: int, modifiers: int, clocks: tuple[Clock, ...]
) -> Settings:
    """Settings that match some spells.

    Raises:
        InputError: another number of rows, modifiers or clocks.
    """
    own = given if isinstance(given, Settings) else Settings.steady_from(given, len(clocks))
    if len(own) != rows:
        raise InputError("settings", f"one for each of {rows} rows", len(own))
    if own.x.shape[1] != modifiers:
        raise InputError("settings", f"{modifiers} columns, one for each modifier", own.x.shape)
    if own.begin.shape[1] != len(clocks):
        raise InputError("settings", f"where stretches begin on {' and '.join(clocks)}", own.begin.shape)
    return own


def _begin(name: str, given: ArrayLike, starts: IntArray, size: int) -> FloatArray:
    begin = _table(name, given, 1)
    if len(begin) != size:
        raise InputError(name, f"{size} numbers, one for each stretch", len(begin))
    inner = np.ones(size, dtype=bool)
    inner[starts] = False
    if (begin[starts] != 0).any():
        raise InputError(name, "0 for the first stretch of a row", begin[starts])
    if (np.diff(begin, prepend=0.0)[inner] < 0).any():
        raise InputError(name, "numbers that do not fall within a row", given)
    return begin


def _table(name: str, values: ArrayLike, dimensions: int) -> FloatArray:
    found = numbers(name, values, "numbers")
    if found.ndim != dimensions or not found.size or not np.isfinite(found).all():
        raise InputError(name, f"finite numbers in {dimensions} dimensions", values)
    return frozen(found)
