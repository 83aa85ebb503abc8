"""Small validators at the door of the interval room; each names the field and what was wanted."""

from __future__ import annotations

import math

from planner.arrays import numbers
from planner.errors import CostError, UsageError

MOST_KM_PER_YEAR = 1e9
"""Far above any car; beyond it a life in km is over sooner than the shortest interval that is compared (a thirtieth of a second)."""


def number(field: str, value: object, wanted: str) -> float:
    """A finite number from whatever the caller gave.

    Raises:
        CostError: it is no number, or not finite.
    """
    found = numbers(field, value, wanted, CostError)
    if found.ndim or not math.isfinite(found):
        raise CostError(field, wanted, value)
    return float(found)


def positive(field: str, value: object, wanted: str = "a positive, finite number") -> float:
    """A finite number above zero.

    Raises:
        CostError: it is not.
    """
    result = number(field, value, wanted)
    if result <= 0:
        raise CostError(field, wanted, value)
    return result


def chance(field: str, value: object) -> float:
    """A chance strictly between 0 and 1.

    Raises:
        CostError: it is not.
    """
    wanted = "a chance above 0 and below 1"
    result = number(field, value, wanted)
    if not 0.0 < result < 1.0:
        raise CostError(field, wanted, value)
    return result


def yearly_distance(value: object) -> float | None:
    """A yearly distance in kilometres, from 0 to a thousand million; None stays None.

    Raises:
        UsageError: it is negative, beyond, not finite or no number.
    """
    if value is None:
        return None
    wanted = f"a yearly distance from 0 to {MOST_KM_PER_YEAR:g} km"
    try:
        result = number("km_per_year", value, wanted)
    except CostError:
        raise UsageError("km_per_year", wanted, value) from None
    if not 0 <= result <= MOST_KM_PER_YEAR:
        raise UsageError("km_per_year", wanted, value)
    return result
