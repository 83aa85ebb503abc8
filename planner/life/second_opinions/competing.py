"""How parts leave the car, cause by cause: cumulative incidence by Aalen and Johansen.

A part that was stolen, lost in a crash or renewed as a precaution can no longer fail, so one minus Kaplan-Meier overstates how many
fail in service. The incidences of all causes and the share still on the car add up to one at every reading.

References:
    Aalen & Johansen 1978, Scand. J. Statistics 5:141-150; Kalbfleisch & Prentice 2002, section 8.2.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import NobodyWatched, SpellError
from planner.life.checks import numbers
from planner.life.second_opinions.risk_sets import nobody_left

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import FloatArray


@dataclass(frozen=True, eq=False)
class Incidence:
    """Shares of parts gone by each cause.

    Attributes:
        times: readings at which a part went, rising, (n,).
        still_on: share still on the car after each, (n,).
        by_cause: share gone by each cause up to and with each reading, (n,).
    """

    times: FloatArray
    still_on: FloatArray
    by_cause: Mapping[str, FloatArray]

    def at(self, cause: str, t: ArrayLike) -> FloatArray:
        """Share gone by a cause by reading t.

        Raises:
            SpellError: a cause that nothing went by.
        """
        if cause not in self.by_cause:
            raise SpellError("cause", f"one of {', '.join(self.by_cause)}", cause)
        steps = np.searchsorted(self.times, np.asarray(t, dtype=np.float64), side="right")
        return np.concatenate([[0.0], self.by_cause[cause]])[steps]


def cumulative_incidence(
    end: ArrayLike,
    cause: Sequence[str | None],
    entry: ArrayLike | None = None,
    weight: ArrayLike | None = None,
) -> Incidence:
    """Estimate the share of parts gone by each cause.

    A part last seen good at a reading was still at risk there; a part that went at reading 0 counts as at risk at 0.

    Args:
        end: km or years at which each part went or was last seen good, (n,).
        cause: what it went by; None where it was still good.
        entry: when it came under observation, below `end`; 0 where left out.
        weight: how often each row counts, above 0; 1 where left out.

    Raises:
        SpellError: naming the argument.
        NobodyWatched: at some reading no part was left under observation, and others came later.
    """
    for row, own in enumerate(cause):
        if not (own is None or isinstance(own, str)):
            raise SpellError("cause", f"words, or None where a part was still good (row {row})", own)
    ends = _column("end", end, None, len(cause))
    entries = _column("entry", 0.0 if entry is None else entry, ends, len(cause))
    weights = _column("weight", 1.0 if weight is None else weight, None, len(cause))
    if not (weights > 0).all():
        raise SpellError("weight", "numbers above 0", weight)
    names = sorted({name for name in cause if name is not None})
    if not names:
        raise SpellError("cause", "at least one part that went", cause)
    gap = nobody_left(entries, ends)
    if gap is not None:
        raise NobodyWatched(gap)
    went = np.array([[name == own for own in cause] for name in names])
    times = np.unique(ends[went.any(axis=0)])
    risk = ((entries < times[:, None]) | (entries == 0)) & (times[:, None] <= ends)
    at_risk = risk @ weights
    gone = ((ends == times[:, None])[None, :, :] & went[:, None, :]) @ weights
    still_on = np.cumprod(1 - gone.sum(axis=0) / at_risk)
    before = np.concatenate([[1.0], still_on[:-1]])
    shares = np.cumsum(before * gone / at_risk, axis=1)
    return Incidence(times, still_on, dict(zip(names, shares, strict=True)))


def _column(name: str, values: ArrayLike, below: FloatArray | None, size: int) -> FloatArray:
    column = numbers(name, values, f"as many numbers as causes ({size}), at least one", SpellError)
    if column.ndim == 0 and name != "end":
        column = np.full(size, float(column))
    if column.shape != (size,) or size == 0:
        raise SpellError(name, f"as many numbers as causes ({size}), at least one", values)
    if not (np.isfinite(column) & (column >= 0)).all():
        raise SpellError(name, "finite numbers of at least 0", values)
    if below is not None and ((column >= below) & (column > 0)).any():
        raise SpellError(name, "numbers below the end of their row", values)
    return column
