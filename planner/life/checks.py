"""Small validators at the door of the life room; each names the field and what was wanted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]


def number(
    field: str, value: object, wanted: str = "a finite number", error: type[InputError] = InputError
) -> float:
    """A finite number, never a text or a truth value.

    Raises:
        InputError: it is not, or the given branch of it.
    """
    is_number = isinstance(value, int | float | np.integer | np.floating) and not isinstance(value, bool)
    if not is_number or not math.isfinite(value):  # type: ignore[arg-type]  # narrowed by is_number
        raise error(field, wanted, value)
    return float(value)  # type: ignore[arg-type]  # narrowed by is_number


def positive(
    field: str,
    value: object,
    wanted: str = "a finite number above 0",
    error: type[InputError] = InputError,
) -> float:
    """A finite number above 0."""
    found = number(field, value, wanted, error)
    if found <= 0:
        raise error(field, wanted, value)
    return found


def share(
    field: str, value: object, wanted: str = "a share between 0 and 1", error: type[InputError] = InputError
) -> float:
    """A number strictly between 0 and 1."""
    found = number(field, value, wanted, error)
    if not 0 < found < 1:
        raise error(field, wanted, value)
    return found


def numbers(
    field: str, values: object, wanted: str = "an array of numbers", error: type[InputError] = InputError
) -> FloatArray:
    """An array of numbers, a copy: no texts, no truth values, none masked; infinite ones and nan pass.

    Raises:
        InputError: it is none, or the given branch of it.
    """
    if isinstance(values, np.ma.MaskedArray):
        raise error(field, f"{wanted} without a mask, the masked rows left out", values)
    try:
        found = np.array(values)
    except (TypeError, ValueError) as wrong:
        raise error(field, wanted, values) from wrong
    if found.dtype.kind not in "iuf" and found.size:
        raise error(field, wanted, values)
    return found.astype(np.float64)


def count(field: str, value: object) -> int:
    """A whole number of at least 1."""
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < 1:
        raise InputError(field, "a whole number of at least 1", value)
    return int(value)


def seed_number(value: object) -> int:
    """A seed of random numbers: a whole number of at least 0."""
    if isinstance(value, bool) or not isinstance(value, int | np.integer) or value < 0:
        raise InputError("seed", "a whole number of at least 0", value)
    return int(value)
