"""The probability plot: on paper where a Weibull law is straight, the fitted law with limits and the records' own points."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.figures import look
from planner.figures.lives import LIMITS
from planner.figures.picture import Picture
from planner.interval.wording import rounded
from planner.units import DistanceUnit, from_km

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from planner.life.model import Life
    from planner.life.nonparametric import SurvivalCurve

    Array = NDArray[np.float64]

_SHARES = (0.001, 0.01, 0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.99)
_POINTS = 120


def probability_plot(life: Life, curve: SurvivalCurve, *, unit: DistanceUnit = "km") -> Picture:
    """Failed share against the clock, both on scales that make a Weibull law a straight line.

    Points stand at the middle of each fall of the curve without a law (Lawless 2003, section 3.3).

    Args:
        life: on one clock, distance or age.
        curve: from the same spells, on the same clock.
        unit: of the distances shown.

    Raises:
        InputError: a life on two clocks, or a curve without any failure.
    """
    if len(life.clocks) != 1:
        raise InputError(
            "life", "a life on one clock: on two the law is not straight on this paper", life.clocks
        )
    points = _points(curve)
    if not len(points[0]):
        raise InputError("curve", "a curve with at least one failure", 0)
    drawing = _ProbabilityDrawing(life, *points, curve.method, unit)
    return Picture(
        "Failed share on Weibull paper", drawing.words(), drawing.draw, lambda narrow: 3.8 if narrow else 4.2
    )


def _points(curve: SurvivalCurve) -> tuple[Array, Array]:
    """Where each fall stands, and the failed share at its middle."""
    failed = 1.0 - np.concatenate([[1.0], curve.survival])
    middle = (failed[:-1] + failed[1:]) / 2
    inside = (middle > 0) & (middle < 1) & (curve.times > 0)
    return curve.times[inside], middle[inside]


@dataclass(frozen=True)
class _ProbabilityDrawing:
    life: Life
    times: Array
    failed: Array
    method: str
    unit: DistanceUnit

    def draw(self, axes: Axes, narrow: bool) -> None:
        at = np.geomspace(self.times[0] / 2.5, self.times[-1] * 2.0, _POINTS)
        clock = {"km": at} if self.life.distance is not None else {"years": at}
        low, high = np.quantile(self.life.cumulative_hazard_draws(**clock), LIMITS, axis=0)
        x = self._shown(at)
        axes.fill_between(
            x,
            np.log(low),
            np.log(high),
            color=look.BAND,
            linewidth=0,
            label="middle 80 % of what is believable",
        )
        axes.plot(
            x,
            np.log(self.life.cumulative_hazard(**clock)),
            color=look.MODEL,
            linewidth=2.0,
            label="fitted law",
        )
        axes.plot(self._shown(self.times), _height(self.failed), marker="o", markersize=4.5, markerfacecolor=look.PAPER,
                  color=look.SEEN, markeredgewidth=1.4, linestyle="none", label=f"records alone ({self.method})")  # fmt: skip
        axes.set_xscale("log")
        axes.set_xlim(float(x[0]), float(x[-1]))
        bottom = min(float(_height(self.failed[:1])[0]) - 1.0, _height(np.array([0.01]))[0])
        axes.set_ylim(bottom, float(_height(np.array([0.995]))[0]))
        shares = [share for share in _SHARES if _height(np.array([share]))[0] >= bottom]
        axes.set_yticks(_height(np.array(shares)), [f"{100 * share:g} %" for share in shares])
        self._ticks(axes, x, narrow=narrow)
        axes.grid()
        axes.set_ylabel("failed")
        axes.set_xlabel(
            f"{self.unit} since fitting" if self.life.distance is not None else "years since fitting"
        )
        look.key(axes, narrow=narrow, columns=2)

    def words(self) -> str:
        """How far the points lie from the line, in words of share."""
        clock = {"km": self.times} if self.life.distance is not None else {"years": self.times}
        off = np.abs(1.0 - np.asarray(self.life.survival(**clock)) - self.failed)
        law = self.life.distance or self.life.age
        shape = "" if law is None else f" The law's shape is about {rounded(law.shape)}."
        return f"{len(self.times)} points of the records against the fitted law; the farthest is off by {100 * float(off.max()):.0f} % of all parts.{shape}"

    def _ticks(self, axes: Axes, x: Array, *, narrow: bool) -> None:
        """One, two and five times each power of ten; in a narrow picture the powers and their halves."""
        from matplotlib.ticker import FixedLocator, NullLocator  # noqa: PLC0415 - loaded only when needed

        steps = (1.0, 5.0) if narrow else (1.0, 2.0, 5.0)
        powers = range(int(np.floor(np.log10(x[0]))), int(np.ceil(np.log10(x[-1]))) + 1)
        ticks = [
            step * 10.0**power for power in powers for step in steps if x[0] <= step * 10.0**power <= x[-1]
        ]
        axes.xaxis.set_major_locator(FixedLocator(ticks))
        axes.xaxis.set_minor_locator(NullLocator())
        axes.set_xticks(ticks, [f"{tick:,.0f}" if tick >= 10 else f"{tick:g}" for tick in ticks])

    def _shown(self, at: Array) -> Array:
        return np.asarray(at * from_km(1.0, self.unit) if self.life.distance is not None else at)


def _height(failed: Array) -> Array:
    """Height of a failed share on the paper: ln(-ln(1 - F))."""
    return np.asarray(np.log(-np.log1p(-np.asarray(failed))))
