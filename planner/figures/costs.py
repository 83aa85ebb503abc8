"""The interval cost curve: what each interval costs per year, the best one and the range that costs nearly the same."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import look
from planner.figures.picture import Picture, plain
from planner.interval.cost_rate import cost_curve
from planner.interval.optimum import discount_rate
from planner.interval.path import path_hazard
from planner.interval.wording import rounded, span_in_words, years_in_words
from planner.units import DistanceUnit, from_km

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from planner.interval.advice import Interval
    from planner.interval.costs import Costs
    from planner.life.model import Life

    Array = NDArray[np.float64]

_POINTS = 160


def interval_cost(
    life: Life,
    costs: Costs,
    *,
    km_per_year: float,
    interval: Interval | None = None,
    currency: str = "",
    unit: DistanceUnit = "km",
    discount: float = 0.0,
) -> Picture:
    """Expected cost per year of renewing at each interval, against running to failure.

    Args:
        life: fitted, known or book life.
        costs: planned and failure cost, and the chance of a bad new part.
        km_per_year: the car's yearly distance.
        interval: the advice at that yearly distance, marked with its range within 5 % of the best cost.
        currency: of the costs, for the axis.
        unit: of the distances shown.
        discount: continuous discount rate per year, as the advice was chosen with.
    """
    curve = cost_curve(
        path_hazard(life, km_per_year), new_part_fault=costs.new_part_fault, discount=discount_rate(discount)
    )
    run = costs.failure * curve.failures_if_run
    years = np.linspace(0.0, _end(curve.years, curve.rates.survival, interval), _POINTS + 1)[1:]
    drawing = _CostDrawing(
        years,
        curve.at(years).cost(costs.planned, costs.failure),
        run,
        interval,
        plain(currency),
        unit,
        km_per_year,
    )
    return Picture(
        "Cost per year of each interval", drawing.words(), drawing.draw, lambda narrow: 3.4 if narrow else 3.6
    )


@dataclass(frozen=True)
class _CostDrawing:
    years: Array
    cost: Array
    run: float
    interval: Interval | None
    currency: str
    unit: DistanceUnit
    km_per_year: float

    def draw(self, axes: Axes, narrow: bool) -> None:
        axes.plot(self.years, self.cost, color=look.MODEL, linewidth=2.0, label="renewing at that age")
        axes.axhline(
            self.run, color=look.SEEN, linewidth=1.3, linestyle=(0, (4, 1.5)), label="running to failure"
        )
        if self.interval is not None and math.isfinite(self.interval.years):
            low, high = self.interval.within_5_percent
            axes.axvspan(low, min(high, self.years[-1]), facecolor=look.SLACK, edgecolor=look.FAINT, linewidth=0.5, zorder=0.4,
                         label="within 5 % of the advice")  # fmt: skip
            axes.plot([self.interval.years], [self.interval.cost_per_year], marker="D", markersize=7, color=look.INK,
                      linestyle="none", label=self._advice_label())  # fmt: skip
        axes.set_xlim(0.0, float(self.years[-1]))
        axes.set_ylim(0.0, 1.08 * self._ceiling())
        axes.grid(axis="y")
        axes.set_ylabel(f"{self.currency} a year".strip())
        rate = rounded(from_km(self.km_per_year, self.unit))
        label = f"renewed after so many years (at {rate} {self.unit} a year)"
        axes.set_xlabel(look.in_lines(label, narrow=narrow))
        look.key(axes, narrow=narrow, columns=2)

    def words(self) -> str:
        """The advice, its price and that of doing without."""
        money = f" {self.currency}" if self.currency else ""
        run = f"Running to failure costs about {rounded(self.run)}{money} a year."
        if self.interval is None:
            best = int(np.argmin(self.cost))
            return f"Renewing costs least, about {rounded(float(self.cost[best]))}{money} a year, near {years_in_words(float(self.years[best]))}. {run}"
        if math.isinf(self.interval.years):
            return f"The advice is to run it to failure and carry a spare. {run}"
        low, high = self.interval.within_5_percent
        slack = (
            f" From {span_in_words(low, high)} it costs within 5 % of that." if math.isfinite(high) else ""
        )
        cost = rounded(self.interval.cost_per_year)
        return f"Renewing at about {years_in_words(self.interval.years)} costs about {cost}{money} a year.{slack} {run}"

    def _advice_label(self) -> str:
        bound = {"cap": "the limit decides", "risk": "the limit on risk decides"}
        return (
            f"advice: {bound.get(self.interval.bound_by, 'cost decides')}"
            if self.interval is not None
            else ""
        )

    def _ceiling(self) -> float:
        """High enough for the run-to-failure line and the flat part; the steep start is cut off."""
        low = float(self.cost.min())
        advice = 0.0 if self.interval is None else self.interval.cost_per_year
        return max(min(float(self.cost.max()), 4.0 * low), 1.1 * min(self.run, 6.0 * low), 1.2 * advice)


def _end(grid: Array, survival: Array, interval: Interval | None) -> float:
    """Where few parts are left, and past the advice."""
    few = np.flatnonzero(survival <= 0.10)
    end = float(grid[few[0]] if len(few) else grid[-1])
    if interval is None or not math.isfinite(interval.years):
        return end
    high = interval.within_5_percent[1]
    return max(1.15 * interval.years, min(end, 3.0 * (high if math.isfinite(high) else interval.years)))
