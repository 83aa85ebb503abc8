"""The columns that spells are made of, and the checks that each passes at the door."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.arrays import is_masked, numbers
from planner.errors import SpellError

if TYPE_CHECKING:
    from collections.abc import Sequence

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class ClockBounds:
    """Where spells stand on one clock; three read-only arrays of one length (km or years)."""

    entry: FloatArray
    lower: FloatArray
    upper: FloatArray


def bounds_of(
    names: tuple[str, str, str], entry: ArrayLike | None, lower: ArrayLike, upper: ArrayLike
) -> ClockBounds:
    """Check and freeze one clock's columns; ``names`` are the caller's for entry, lower and upper."""
    entry_name, lower_name, upper_name = names
    low = _column(lower_name, lower)
    high = _column(upper_name, upper)
    same_length(upper_name, high, len(low))
    start = _spread(entry_name, 0.0 if entry is None else entry, len(low))
    refuse(~np.isfinite(low), lower_name, "finite numbers", low)
    refuse(~np.isfinite(start) | (start < 0), entry_name, "finite numbers of at least 0", start)
    refuse(low < start, lower_name, f"at least {entry_name}", low)
    refuse(np.isnan(high) | (high < low), upper_name, f"at least {lower_name}, or inf", high)
    return ClockBounds(frozen(start), frozen(low), frozen(high))


def rates(given: ArrayLike | None, km: ClockBounds, years: ClockBounds, exact: BoolArray) -> FloatArray:
    """Rates of the exact rows in km per year: the given ones, or the mean over the spell."""
    rate = np.full(len(exact), np.nan)
    if given is None:
        span = years.upper[exact] - years.entry[exact]
        bad = np.zeros(len(exact), dtype=bool)
        bad[exact] = span <= 0
        refuse(bad, "km_per_year", "a rate for an exact row that fails at its entry", years.upper)
        with np.errstate(over="ignore"):
            rate[exact] = (km.upper[exact] - km.entry[exact]) / span
    else:
        rate[:] = _spread("km_per_year", given, len(exact))
        refuse(np.isinf(rate) | (rate < 0), "km_per_year", "finite numbers of at least 0", rate)
        refuse(exact & np.isnan(rate), "km_per_year", "a number in every exact row", rate)
        rate[~exact] = np.nan
    refuse(exact & ~np.isfinite(rate), "km_per_year", "finite numbers of at least 0", rate)
    unmoved = exact & (km.upper <= 0) & (rate > 0)
    refuse(unmoved, "km_per_year", "0 in an exact row that fails at 0 km", rate)
    return frozen(rate)


def weights(given: ArrayLike | None, length: int) -> FloatArray:
    """Weights, each finite and above 0; 1 where none are given."""
    weight = _spread("weight", 1.0 if given is None else given, length)
    refuse(~np.isfinite(weight) | (weight <= 0), "weight", "finite numbers above 0", weight)
    with np.errstate(over="ignore"):
        total = weight.sum()
    if not np.isfinite(total):
        raise SpellError("weight", "numbers with a finite sum", total)
    return frozen(weight)


def _column(name: str, values: ArrayLike) -> FloatArray:
    column = numbers(name, values, error=SpellError)
    if column.ndim != 1 or column.size == 0:
        raise SpellError(name, "a one-dimensional array with at least one row", values)
    return column


def _spread(name: str, values: ArrayLike, length: int) -> FloatArray:
    given = numbers(name, values, error=SpellError)
    if given.ndim == 0:
        return np.broadcast_to(given, (length,))
    column = _column(name, given)
    same_length(name, column, length)
    return column


def same_length(name: str, column: FloatArray, length: int) -> None:
    """Refuse a column of another length."""
    if len(column) != length:
        raise SpellError(name, f"{length} rows", f"{len(column)} rows")


def refuse(bad: BoolArray, name: str, wanted: str, values: FloatArray) -> None:
    """Refuse the first row marked bad."""
    if bad.any():
        row = int(np.argmax(bad))
        raise SpellError(name, f"{wanted} (row {row})", float(values[row]))


def frozen(values: FloatArray) -> FloatArray:
    """The same array, closed for writing."""
    if values.flags.writeable:
        values.setflags(write=False)
    return values


def row_numbers(rows: ArrayLike, length: int) -> NDArray[np.generic]:
    """A mask or an index array that picks at least one of so many rows.

    Raises:
        SpellError: it is neither, has another length or reaches beyond, or picks nothing.
    """
    wanted = f"a mask of {length} truth values, or row numbers below {length}"
    if is_masked(rows):
        raise SpellError("rows", f"{wanted}, without a mask of their own", rows)
    try:
        chosen = np.asarray(rows)
    except ValueError as error:
        raise SpellError("rows", wanted, rows) from error
    if chosen.ndim == 1 and not chosen.size:
        raise SpellError("rows", "at least one row", rows)
    if chosen.ndim != 1 or chosen.dtype.kind not in "biu":
        raise SpellError("rows", wanted, rows)
    if chosen.dtype.kind == "b":
        if len(chosen) != length:
            raise SpellError("rows", wanted, f"{len(chosen)} truth values")
        if not chosen.any():
            raise SpellError("rows", "at least one row", rows)
    elif chosen.max() >= length or chosen.min() < -length:
        raise SpellError("rows", wanted, rows)
    return chosen


def picked(bounds: ClockBounds | None, rows: NDArray[np.generic]) -> ClockBounds | None:
    """The rows that a mask or index array picks."""
    if bounds is None:
        return None
    return ClockBounds(*(frozen(side[rows]) for side in (bounds.entry, bounds.lower, bounds.upper)))


def joined(bounds: Sequence[ClockBounds | None]) -> ClockBounds | None:
    """Bounds of several spells one after another."""
    present = [b for b in bounds if b is not None]
    if not present:
        return None
    return ClockBounds(
        frozen(np.concatenate([b.entry for b in present])),
        frozen(np.concatenate([b.lower for b in present])),
        frozen(np.concatenate([b.upper for b in present])),
    )
