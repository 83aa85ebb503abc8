"""Small validators at the door of the life room; each names the field and what was wanted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from typing import Any

import numpy as np

from planner.arrays import is_masked, numbers
from planner.errors import InputError, SpellError

__all__ = ["count", "labels", "number", "numbers", "positive", "seed_number", "share", "weights_add_up"]

_NO_NUMBERS = (bool, np.timedelta64)
"""Python and numpy call a truth value and a span of days whole numbers."""

MOST_WEIGHT = 1e15
"""Largest sum of weights in a fit of several lives or effects."""


def number(
    field: str, value: object, wanted: str = "a finite number", error: type[InputError] = InputError
) -> float:
    """A finite number, never a text or a truth value.

    Raises:
        InputError: it is not, or the given branch of it.
    """
    if not isinstance(value, int | float | np.integer | np.floating) or isinstance(value, _NO_NUMBERS):
        raise error(field, wanted, value)
    try:
        found = float(value)
    except OverflowError as wrong:
        raise error(field, wanted, value) from wrong
    if not math.isfinite(found):
        raise error(field, wanted, value)
    return found


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


def count(field: str, value: object) -> int:
    """A whole number of at least 1."""
    if not isinstance(value, int | np.integer) or isinstance(value, _NO_NUMBERS) or value < 1:
        raise InputError(field, "a whole number of at least 1", value)
    return int(value)


def seed_number(value: object) -> int:
    """A seed of random numbers: a whole number of at least 0."""
    if not isinstance(value, int | np.integer) or isinstance(value, _NO_NUMBERS) or value < 0:
        raise InputError("seed", "a whole number of at least 0", value)
    return int(value)


def labels(field: str, given: object, rows: int, one: str) -> list[Any]:
    """What each row is called by: a group, a car, a grade; from a list, an array or a column of a table.

    Args:
        field: the argument's name.
        given: one name for each row.
        rows: how many rows.
        one: what a name is of, as "car".

    Raises:
        SpellError: none for some row, nan or None, a masked one, or something that cannot be a name, such as a list.
    """
    wanted = f"one {one} for each of {rows} rows"
    if isinstance(given, str | bytes | Mapping | AbstractSet) or not isinstance(given, Iterable):
        raise SpellError(field, wanted, given)
    if is_masked(given):
        raise SpellError(field, f"{wanted} without a mask, the masked rows left out", given)
    try:
        names = list(given)
    except TypeError as error:
        raise SpellError(field, wanted, given) from error
    if len(names) != rows:
        raise SpellError(field, wanted, f"{len(names)} of them")
    try:
        complete = not any(_nameless(name) for name in dict.fromkeys(names))
    except TypeError:  # a list among them
        complete = False
    if not complete:
        row = next(row for row, name in enumerate(names) if _nameless(name))
        raise SpellError(field, f"{wanted}, none without a name (row {row})", names[row])
    return names


def _nameless(name: object) -> bool:
    """Whether it is no name: None, nan and their like, or nothing that a group could be found by."""
    try:
        hash(name)
        return name is None or bool(name != name)  # noqa: PLR0124 - nan only
    except (TypeError, ValueError):
        return True


def weights_add_up(total: float) -> None:
    """Refuse weights that are too large for a fit of several lives or effects at once.

    Raises:
        SpellError: their sum is above 1e15, beyond which one part more or less is lost in rounding.
    """
    if not total <= MOST_WEIGHT:
        raise SpellError("weight", f"numbers with a sum of at most {MOST_WEIGHT:g}", total)
