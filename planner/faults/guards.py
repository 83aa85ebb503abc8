"""Small named validators of the fault-finding room: each says which field, what was wanted and what came."""

from __future__ import annotations

import math
from collections.abc import Sized
from typing import TYPE_CHECKING

import numpy as np

from planner.faults.errors import FaultError

if TYPE_CHECKING:
    from collections.abc import Hashable

    from numpy.typing import NDArray


def number(field: str, value: object, wanted: str) -> float:
    """A finite number, never a truth value.

    Raises:
        FaultError: it is not.
    """
    is_number = isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)
    if not is_number or not math.isfinite(value):  # type: ignore[arg-type]  # narrowed by is_number
        raise FaultError(field, wanted, value)
    return float(value)  # type: ignore[arg-type]  # narrowed by is_number


def finite(field: str, value: object, at_least: float = 0.0) -> None:
    """A finite number not below a bound."""
    wanted = f"a finite number of at least {at_least:g}"
    if number(field, value, wanted) < at_least:
        raise FaultError(field, wanted, value)


def chance(field: str, value: object, *, above_zero: bool = False, below_one: bool = True) -> None:
    """A probability; never 1 unless said otherwise, and never 0 where `above_zero`."""
    wanted = (
        f"a chance {'above 0' if above_zero else 'of 0 or more'} and {'below 1' if below_one else 'up to 1'}"
    )
    got = number(field, value, wanted)
    too_low = got <= 0.0 if above_zero else got < 0.0
    too_high = got >= 1.0 if below_one else got > 1.0
    if too_low or too_high:
        raise FaultError(field, wanted, value)


def share(field: str, value: object) -> None:
    """A share of 0 to 1, both ends allowed."""
    chance(field, value, below_one=False)


def hazard(field: str, value: object) -> float | NDArray[np.float64]:
    """An accrued hazard above 0: one number, or a row of one per draw."""
    wanted = "an accrued hazard above 0, finite: one number or one per draw"
    try:
        array = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError):
        raise FaultError(field, wanted, value) from None
    if isinstance(value, bool) or array.ndim > 1 or array.size == 0:
        raise FaultError(field, wanted, value)
    if not (np.isfinite(array) & (array > 0.0)).all():
        raise FaultError(field, wanted, value)
    return array if array.ndim else float(array)


def truth(field: str, value: object) -> None:
    """True or false, nothing that merely counts as such."""
    if not isinstance(value, bool):
        raise FaultError(field, "true or false", value)


def words(field: str, value: Sized, *, unique: bool = False, empty: bool = False) -> None:
    """A text or a row that is not empty, or whose entries come once each."""
    if not isinstance(value, Sized) or (not len(value) and not empty):
        raise FaultError(field, "at least one entry", value)
    if unique:
        entries: list[Hashable] = list(value)  # type: ignore[call-overload]  # callers pass tuples of text
        if len(set(entries)) < len(entries):
            raise FaultError(field, "each entry once", value)
