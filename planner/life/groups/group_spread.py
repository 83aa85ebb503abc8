"""How much groups of one kind differ: the spreads tried, and what the posterior of the spread says.

The spread is the standard deviation of the groups' ln scales on a clock. Those tried stand evenly in their logarithms. At each the whole
hierarchy is fitted and its marginal likelihood taken (Laplace; Rue, Martino & Chopin 2009, J. Royal Statistical Society B 71:319-392);
between them its logarithm is interpolated by splines. That serves as a proposal only: the posterior itself is sampled. The prior of a
spread is half-normal (Gelman 2006, Bayesian Analysis 1:515-534).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.history.spells import BoolArray, Clock, FloatArray
    from planner.life.row_parts import IntArray

USUAL_SPREAD = 0.4
"""Scale of the half-normal prior (judgement): the trade's notes have lives of grades and storages apart by factors of 1.3 to 2."""

FEW_GROUPS = 3
_LEAST, _MOST = 0.01, 2.0
_NODES = {1: 12, 2: 7}
_FINE = {1: 400, 2: 60}
_HALF_NORMAL = (0.125661, 0.674490, 1.644854)  # 10 %, 50 % and 90 % points of the half-normal law
_STILL_PRIOR = 0.85
_MOVED = 0.5


@dataclass(frozen=True)
class GroupSpread:
    """Posterior of how far groups stand apart on one clock, as a standard deviation of ln scale.

    Attributes:
        clock: "distance" or "age".
        median: of the posterior.
        low: its 10 % point.
        high: its 90 % point.
        groups: how many groups it is judged from.
        rests_on_prior: whether the groups are too few, or say too little, to move it away from what is usual.
    """

    clock: Clock
    median: float
    low: float
    high: float
    groups: int
    rests_on_prior: bool

    @classmethod
    def of(cls, clock: Clock, quantiles: FloatArray, groups: int, usual: float = USUAL_SPREAD) -> GroupSpread:
        """From the 10 %, 50 % and 90 % points of the posterior."""
        low, median, high = (float(v) for v in quantiles)
        wide = high - low > _STILL_PRIOR * (_HALF_NORMAL[2] - _HALF_NORMAL[0]) * usual
        unmoved = abs(median / (_HALF_NORMAL[1] * usual) - 1) < _MOVED
        return cls(clock, median, low, high, groups, groups < FEW_GROUPS or (wide and unmoved))

    @property
    def words(self) -> str:
        """What it means, as factors of life."""
        factor = f"lives of groups differ by a factor of about {math.exp(self.median):.1f} either way"
        limits = f"{math.exp(self.low):.1f} to {math.exp(self.high):.1f}"
        groups = f"{self.groups} group" + ("" if self.groups == 1 else "s")
        if self.rests_on_prior:
            return f"{factor} ({limits}) on {self.clock}: what is usual, as {groups} cannot tell"
        return f"{factor} ({limits}) on {self.clock}, judged from {groups}"


@dataclass(frozen=True, eq=False)
class SpreadGrid:
    """The spreads tried.

    Attributes:
        clocks: the clocks.
        usual: scale of the half-normal prior.
    """

    clocks: tuple[Clock, ...]
    usual: float

    @cached_property
    def each(self) -> FloatArray:
        """Spreads tried on every clock, (nodes,)."""
        return np.geomspace(_LEAST, _MOST, _NODES[len(self.clocks)])

    @cached_property
    def spreads(self) -> FloatArray:
        """All combinations, (nodes^clocks, clocks), the last clock running fastest."""
        return _combined(self.each, len(self.clocks))

    @cached_property
    def fine_points(self) -> FloatArray:
        """Logs of finer spreads, all combinations likewise."""
        return _combined(np.linspace(math.log(_LEAST), math.log(_MOST), self._fine), len(self.clocks))

    @property
    def fine_step(self) -> float:
        """Step of the finer spreads in their logarithms."""
        return math.log(_MOST / _LEAST) / (self._fine - 1)

    @property
    def _fine(self) -> int:
        return _FINE[len(self.clocks)]

    def log_prior(self, log_spread: FloatArray) -> FloatArray:
        """Half-normal law of each spread, per step of its logarithm: (m, clocks) in, (m,) out."""
        found: FloatArray = (log_spread - 0.5 * (np.exp(log_spread) / self.usual) ** 2).sum(axis=1)
        return found

    def holds(self, log_spread: FloatArray) -> BoolArray:
        """Whether spreads lie among those tried: (m, clocks) in, (m,) out."""
        return np.array(np.all(log_spread == self.into(log_spread), axis=1))

    def into(self, log_spread: FloatArray) -> FloatArray:
        """Log spreads brought back among those tried."""
        found: FloatArray = np.clip(
            log_spread, math.log(_LEAST) - self.fine_step, math.log(_MOST) + self.fine_step
        )
        return found

    def fine_weights(self, log_marginals: FloatArray) -> FloatArray:
        """Posterior weight of every finer combination, from the log marginal likelihood at each of :attr:`spreads`."""
        logs = self._interpolated(log_marginals - log_marginals.max()).ravel() + self.log_prior(
            self.fine_points
        )
        mass = np.exp(logs - logs.max())
        found: FloatArray = mass / mass.sum()
        return found

    def nearest(self, log_spread: FloatArray) -> IntArray:
        """Number of the combination tried that is nearest, (m,)."""
        last = len(self.each) - 1
        step = math.log(_MOST / _LEAST) / last
        at = np.clip(np.rint((log_spread - math.log(_LEAST)) / step), 0, last).astype(np.int64)
        found: IntArray = at @ (len(self.each) ** np.arange(len(self.clocks) - 1, -1, -1))
        return found

    def _interpolated(self, values: FloatArray) -> FloatArray:
        from scipy.interpolate import CubicSpline, RectBivariateSpline  # noqa: PLC0415 - loaded only when needed

        at, fine = np.log(self.each), np.linspace(math.log(_LEAST), math.log(_MOST), self._fine)
        if len(self.clocks) == 1:
            found: FloatArray = CubicSpline(at, values)(fine)
        else:
            found = RectBivariateSpline(at, at, values.reshape(len(at), len(at)))(fine, fine)
        return found


def _combined(each: FloatArray, clocks: int) -> FloatArray:
    return np.stack(np.meshgrid(*[each] * clocks, indexing="ij"), axis=-1).reshape(-1, clocks)
