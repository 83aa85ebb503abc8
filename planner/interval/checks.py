"""Small validators at the door of the interval room; each names the field and what was wanted."""

from __future__ import annotations

import math
from typing import SupportsFloat

from planner.errors import CostError, UsageError


def number(field: str, value: object, wanted: str) -> float:
    """A finite number from whatever the caller gave.

    Raises:
        CostError: it is no number, or not finite.
    """
    if isinstance(value, (bool, str, bytes)) or not isinstance(value, SupportsFloat):
        raise CostError(field, wanted, value)
    try:
        result = float(value)
    except (TypeError, ValueError):
        raise CostError(field, wanted, value) from None
    if not math.isfinite(result):
        raise CostError(field, wanted, value)
    return result


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
    """A yearly distance in kilometres, 0 or more; None stays None.

    Raises:
        UsageError: it is negative, not finite or no number.
    """
    if value is None:
        return None
    wanted = "a yearly distance of 0 km or more"
    try:
        result = number("km_per_year", value, wanted)
    except CostError:
        raise UsageError("km_per_year", wanted, value) from None
    if result < 0:
        raise UsageError("km_per_year", wanted, value)
    return result
