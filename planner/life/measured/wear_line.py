"""Whether measurements tell of wear at all, and whether they lie on one line: both held against their own error.

Wear never undoes itself. The closest figures that only move towards the limit (isotonic regression by pooling neighbours that are
out of order; Robertson, Wright & Dykstra 1988) leave a sum of squares that, over the error's variance, is at most chi-square with
one degree less than there are measurements. A line leaves two degrees less, its error widened by uneven wear.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import WearContradicted, WearUneven

if TYPE_CHECKING:
    from planner.history.spells import FloatArray

UNEVEN = 0.15
"""Scatter (sd of the log) of a stretch of wear around its line: use changes, wear is not quite even (expert judgement)."""

_NORMAL_POINT = 3.09
"""99.9 % point of the normal law: one true path in a thousand is refused."""


def refuse_what_is_no_wear(at: FloatArray, value: FloatArray, error: float, *, falling: bool) -> None:
    """Refuse measurements that move away from the limit, or lie on no line, by more than their error explains.

    Args:
        at: clocks of the measurements, rising.
        value: the figures, shaped like `at`.
        error: sd of one of them.
        falling: whether wear lowers the figure.

    Raises:
        WearContradicted: the figures go back from the limit.
        WearUneven: they go towards it, along no line.
    """
    count = len(value)
    if count < 2:
        return
    worn = -value if falling else value
    if _squares(worn - _only_rising(worn), error) > _most(count - 1):
        way = "falling" if falling else "rising"
        wanted = (
            f"figures that go on {way} within their error (sd {error:.3g}): wear does not undo itself. "
            "An unrecorded renewal, a wrong figure or a wrong unit?"
        )
        raise WearContradicted("wear.value", wanted, value.tolist())
    if count > 2 and _off_the_line(at, worn, error) > _most(count - 2):
        wanted = f"figures along one line within their error (sd {error:.3g}) and uneven wear: its rate has changed"
        raise WearUneven("wear.value", wanted, value.tolist())


def _squares(residual: FloatArray, error: FloatArray | float) -> float:
    return float(np.sum((residual / error) ** 2))


def _only_rising(worn: FloatArray) -> FloatArray:
    """The closest figures that never fall: neighbours out of order share their mean."""
    means: list[float] = []
    sizes: list[int] = []
    for one in worn:
        means.append(float(one))
        sizes.append(1)
        while len(means) > 1 and means[-2] > means[-1]:
            mean, size = means.pop(), sizes.pop()
            means[-1] = (means[-1] * sizes[-1] + mean * size) / (sizes[-1] + size)
            sizes[-1] += size
    return np.repeat(means, sizes)


def _off_the_line(at: FloatArray, worn: FloatArray, error: float) -> float:
    """Sum of squares around the closest line, each over the variance of its error and of uneven wear since the first."""
    since = at - at[0]
    if since[-1] <= 0.0:
        return 0.0
    slope = (worn[-1] - worn[0]) / since[-1]
    spread = np.hypot(error, UNEVEN * slope * since)
    design = np.stack([np.ones_like(since), since / since[-1]], axis=1) / spread[:, None]
    line, *_ = np.linalg.lstsq(design, worn / spread, rcond=None)
    return _squares(worn / spread - design @ line, 1.0)


def _most(degrees: int) -> float:
    """99.9 % point of chi-square, by Wilson and Hilferty's cube (within 3 %, on the lenient side)."""
    part = 2.0 / (9.0 * degrees)
    return degrees * float(1.0 - part + _NORMAL_POINT * math.sqrt(part)) ** 3
