"""Numbers and arrays of numbers at every room's door: no days, texts, truth values or complex numbers, and no mask that would be lost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

_REAL = (int, float, np.integer, np.floating, Decimal, Fraction)
_UNREAL = (bool, np.timedelta64)  # Python and numpy call them whole numbers


def is_masked(values: object) -> bool:
    """Whether an array, or one within a list, has a mask, which numpy would drop in silence."""
    if isinstance(values, list | tuple):
        return any(issubclass(kind, np.ma.MaskedArray) for kind in set(map(type, values)))
    return isinstance(values, np.ma.MaskedArray)


def numbers(
    field: str, values: object, wanted: str = "an array of numbers", error: type[InputError] = InputError
) -> FloatArray:
    """An array of numbers, a copy; infinite ones and nan pass.

    Raises:
        InputError: texts, truth values, days, spans of days, complex numbers, a number too large for 64 bits, or a mask; or the
            given branch of it.
    """
    if is_masked(values):
        raise error(field, f"{wanted} without a mask, the masked rows left out", values)
    try:
        found = np.asarray(values)
        if found.dtype.kind == "O" and not _all_real(found):
            raise error(field, wanted, values)
        if found.dtype.kind not in "iufO" and found.size:
            raise error(field, wanted, values)
        return np.array(found, dtype=np.float64)
    except (TypeError, ValueError, OverflowError) as wrong:
        if isinstance(wrong, InputError):
            raise
        raise error(field, wanted, values) from wrong


def _all_real(values: NDArray[np.object_]) -> bool:
    kinds = set(map(type, values.ravel().tolist()))
    return all(issubclass(kind, _REAL) and not issubclass(kind, _UNREAL) for kind in kinds)
