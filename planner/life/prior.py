"""What is believed of a life before any record: two quantiles per clock, with spreads.

The quantiles fix a Weibull distribution; the spreads are standard deviations of independent normal laws on the
logarithms of its scale and of its shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import PriorError
from planner.life.checks import positive

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.catalogue import BookClock, PartKind
    from planner.history.spells import Clock, FloatArray

SHARPEST = 1000.0
"""Largest shape of a prior: lives that agree to a thousandth, sharper than any odometer tells."""


@dataclass(frozen=True)
class ClockPrior:
    """Prior of one clock, in the clock's own unit (km or years).

    Attributes:
        p10: by when a tenth of the parts, left alone, would have failed.
        p50: by when half of them would have.
        spread_scale: standard deviation of ln scale.
        spread_shape: standard deviation of ln shape.

    Raises:
        PriorError: a number that is not finite and above zero, or p10 not below p50 (by 0.2 % at least).
    """

    p10: float
    p50: float
    spread_scale: float = 0.5
    spread_shape: float = 0.35

    def __post_init__(self) -> None:
        for name in ("p10", "p50", "spread_scale", "spread_shape"):
            object.__setattr__(self, name, positive(name, getattr(self, name), error=PriorError))
        if self.p10 >= self.p50:
            raise PriorError("p10", f"less than p50 ({self.p50:g})", self.p10)
        if self.shape > SHARPEST:
            raise PriorError("p10", f"at least 0.2 % below p50 ({self.p50:g})", self.p10)

    @property
    def shape(self) -> float:
        """Weibull shape of the two quantiles."""
        return weibull_through(self.p10, 0.1, self.p50, 0.5)[0]

    @property
    def scale(self) -> float:
        """Weibull scale of the two quantiles, in the clock's unit."""
        return weibull_through(self.p10, 0.1, self.p50, 0.5)[1]


@dataclass(frozen=True)
class LifePrior:
    """Prior of a life on one or two clocks; a clock left out is one the part does not run on.

    Raises:
        PriorError: no clock at all, or a clock that is not a :class:`ClockPrior`.
    """

    distance: ClockPrior | None = None
    age: ClockPrior | None = None

    def __post_init__(self) -> None:
        for name, clock in (("distance", self.distance), ("age", self.age)):
            if clock is not None and not isinstance(clock, ClockPrior):
                raise PriorError(name, "a ClockPrior or None", clock)
        if self.distance is None and self.age is None:
            raise PriorError("distance, age", "a ClockPrior on at least one clock", None)

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks that this prior speaks of, in the order of the library."""
        present: list[Clock] = []
        if self.distance is not None:
            present.append("distance")
        if self.age is not None:
            present.append("age")
        return tuple(present)

    @property
    def mean(self) -> FloatArray:
        """Means of (ln shape, ln scale) of each clock present, in order."""
        return np.array([v for c in self._present for v in (math.log(c.shape), math.log(c.scale))])

    @property
    def spread(self) -> FloatArray:
        """Standard deviations of the same columns."""
        return np.array([v for c in self._present for v in (c.spread_shape, c.spread_scale)])

    @property
    def _present(self) -> tuple[ClockPrior, ...]:
        return tuple(c for c in (self.distance, self.age) if c is not None)


def share_left(kept: FloatArray, believed: FloatArray) -> float:
    """How much of what was believed is left, from 0 to 1: the mean over parameters of the variance kept over that believed.

    No parameter counts for more than all of it: at a crooked peak one parameter's curvature may be far below the prior's, and would
    hide what is learnt of the others.

    Args:
        kept: variance of each parameter.
        believed: its variance before any record, above 0.
    """
    return float(np.minimum(kept / believed, 1.0).mean())


def book_prior(kind: PartKind, clocks: Sequence[Clock] | None = None) -> LifePrior:
    """The prior that the catalogue states for a part kind.

    Args:
        kind: a part kind of the catalogue.
        clocks: which of the kind's clocks to use; all of them where left out.

    Raises:
        PriorError: a clock that the kind does not have.
    """
    wanted = tuple(kind.clocks) if clocks is None else tuple(clocks)
    for clock in wanted:
        if clock not in kind.clocks:
            raise PriorError("clocks", f"clocks of {kind.id}: {', '.join(kind.clocks)}", clock)
    return LifePrior(
        distance=_from_book(kind.distance) if "distance" in wanted else None,
        age=_from_book(kind.age) if "age" in wanted else None,
    )


def weibull_through(t1: float, p1: float, t2: float, p2: float) -> tuple[float, float]:
    """Shape and scale of the Weibull distribution with the fractions p1 failed by t1 and p2 by t2.

    Raises:
        PriorError: fractions or times that do not both rise.
    """
    if not 0 < p1 < p2 < 1:
        raise PriorError("p1, p2", "0 < p1 < p2 < 1", (p1, p2))
    if not 0 < t1 < t2 < math.inf:
        raise PriorError("t1, t2", "0 < t1 < t2, finite", (t1, t2))
    shape = math.log(math.log1p(-p2) / math.log1p(-p1)) / (math.log(t2) - math.log(t1))
    return shape, math.exp(math.log(t2) - math.log(-math.log1p(-p2)) / shape)


def _from_book(clock: BookClock | None) -> ClockPrior | None:
    if clock is None:
        return None
    return ClockPrior(clock.p10, clock.p50, clock.spread_scale, clock.spread_shape)
