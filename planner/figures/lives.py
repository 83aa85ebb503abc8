"""The life curve: what share of parts is still good, with limits, against a curve that assumes no law."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.figures import look
from planner.figures.picture import Picture
from planner.interval.wording import rounded, years_in_words
from planner.units import DistanceUnit, from_km

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from planner.life.model import Life
    from planner.life.nonparametric import SurvivalCurve

    Array = NDArray[np.float64]

LIMITS = (0.10, 0.90)
"""The band holds the middle 80 % of what the draws say."""

_POINTS = 160
_WORN_OUT = 0.03


@dataclass(frozen=True)
class OwnPath:
    """One part in service: both clocks now, and its window in years since fitting.

    Attributes:
        km, years: clocks now.
        window: (opens, closes) in years since fitting, or None for run to failure.
    """

    km: float
    years: float
    window: tuple[float, float] | None = None


@dataclass(frozen=True)
class Course:
    """Where a life curve is drawn: along the distance alone, or along years with the distance that goes with them.

    Attributes:
        by_distance: the level axis is distance.
        km_per_year: the car's yearly distance (from now on, where there is an own path).
        own: the part, where it is about one.
    """

    by_distance: bool
    km_per_year: float
    own: OwnPath | None

    def clocks(self, at: Array) -> dict[str, Array]:
        """Both clocks at points of the level axis (km, or years)."""
        if self.by_distance:
            return {"km": at, "years": at * 0}
        if self.own is None or self.own.years <= 0:
            lead = 0.0 if self.own is None else self.own.km
            return {"km": lead + at * self.km_per_year, "years": at}
        before = self.own.km * at / self.own.years
        after = self.own.km + self.km_per_year * (at - self.own.years)
        return {"km": np.where(at <= self.own.years, before, after), "years": at}


def life_curve(
    life: Life,
    *,
    km_per_year: float | None = None,
    curve: SurvivalCurve | None = None,
    own: OwnPath | None = None,
    unit: DistanceUnit = "km",
) -> Picture:
    """What share of new parts is still good as they wear, with the middle 80 % of the draws.

    A life on distance alone is drawn over distance, any other over years since fitting on a car of that yearly
    distance. With an own path the curve follows this part: as it was used until now, at ``km_per_year`` from now on.

    Args:
        life: fitted, known or book life.
        km_per_year: the car's yearly distance; needed unless the life runs on one clock and there is no own path.
        curve: a curve without a law to hold it against, in km where the level axis is distance, else in years.
        own: one part in service.
        unit: of the distances shown.

    Raises:
        InputError: a yearly distance is needed and missing, or not above 0.
    """
    by_distance = life.clocks == ("distance",) and own is None
    rate = 0.0 if km_per_year is None else km_per_year
    if life.distance is not None and not by_distance and not rate > 0:
        raise InputError("km_per_year", "a yearly distance above 0, to tie distance to years", km_per_year)
    course = Course(by_distance, rate, own)
    at = np.linspace(0.0, _end(life, course, curve), _POINTS)
    good = _survival(life, course, at)
    drawing = _LifeDrawing(life, course, at, good, curve, unit)
    title = "Share of parts still good" if own is None else "Chance that a part lasts, on this car's path"
    return Picture(title, drawing.words(), drawing.draw, lambda narrow: 3.4 if narrow else 3.7)


@dataclass(frozen=True)
class _LifeDrawing:
    life: Life
    course: Course
    at: Array
    good: Array
    curve: SurvivalCurve | None
    unit: DistanceUnit

    def draw(self, axes: Axes, narrow: bool) -> None:
        x = self._shown(self.at)
        low, high = np.quantile(_draws(self.life, self.course, self.at), LIMITS, axis=0)
        axes.fill_between(
            x, low, high, color=look.BAND, linewidth=0, label="middle 80 % of what is believable"
        )
        axes.plot(x, self.good, color=look.MODEL, linewidth=2.0, label="best estimate")
        if self.curve is not None:
            self._steps(axes, self.curve)
        self._mark_own(axes)
        axes.set_xlim(0.0, float(x[-1]))
        if self.course.by_distance:
            ticks = look.distance_ticks(float(x[-1]), 4 if narrow else 8)
            axes.set_xticks(ticks, [f"{tick:,.0f}" for tick in ticks])
        look.percent_axis(axes)
        axes.set_ylabel("still good")
        axes.set_xlabel(look.in_lines(self._level_label(), narrow=narrow))
        if not self.course.by_distance and self.life.distance is not None:
            self._distance_above(axes, narrow=narrow)
        look.key(axes, narrow=narrow, columns=2)

    def words(self) -> str:
        """The curve at three heights, the limits at the middle one."""
        points = [f"{100 * share:.0f} % at {self._place(share, self.good)}" for share in (0.9, 0.5, 0.1)]
        low, high = np.quantile(_draws(self.life, self.course, self.at), LIMITS, axis=0)
        text = f"Best estimate of the share still good: {', '.join(points)} {self._unit_words()}."
        text += f" Half are still good at {self._place(0.5, low)} to {self._place(0.5, high)} in the middle 80 % of what is believable."
        if self.curve is not None:
            text += f" A stepped curve from the records alone ({self.curve.method}) is drawn beside it."
        own = self.course.own
        if own is not None:
            text += f" This part stands at {years_in_words(max(own.years, 0.01))}."
            if own.window is not None:
                text += f" Its window runs from {own.window[0]:.1f} to {own.window[1]:.1f} years."
        return text

    def _steps(self, axes: Axes, curve: SurvivalCurve) -> None:
        """The curve without a law, level up to the last look at a part still good, its own limits thinner."""
        rest = [mass.left for mass in curve.masses if math.isinf(mass.right)]
        x = self._shown(np.concatenate([[0.0], curve.times, rest]))

        def heights(values: Array) -> Array:
            return np.concatenate([[1.0], values, values[-1:] if rest else []])

        dash = (0, (4, 1.5))
        label = f"{curve.method}: the records alone"
        axes.step(
            x,
            heights(curve.survival),
            where="post",
            color=look.SEEN,
            linewidth=1.5,
            linestyle=dash,
            label=label,
        )
        if np.isfinite(curve.lower).any():
            ends = f"its {100 * curve.level:.0f} % limits"
            for values, name in ((curve.lower, ends), (curve.upper, "_")):
                axes.step(
                    x,
                    heights(values),
                    where="post",
                    color=look.SEEN,
                    linewidth=0.8,
                    linestyle=":",
                    label=name,
                )

    def _mark_own(self, axes: Axes) -> None:
        own = self.course.own
        if own is None:
            return
        if own.window is not None:
            axes.axvspan(
                *own.window,
                facecolor=look.SLACK,
                edgecolor=look.FAINT,
                linewidth=0.5,
                zorder=0.4,
                label="window for renewal",
            )
        height = float(_survival(self.life, self.course, np.array([own.years]))[0])
        axes.plot(
            [own.years],
            [height],
            marker="D",
            markersize=7,
            color=look.INK,
            linestyle="none",
            label="this part today",
        )

    def _distance_above(self, axes: Axes, *, narrow: bool) -> None:
        """The other clock along the upper edge, at round distances."""
        way = from_km(1.0, self.unit) * self.course.clocks(self.at)["km"]
        ticks = look.distance_ticks(float(way[-1]), 3 if narrow else 6)
        above = axes.twiny()
        above.set_xlim(axes.get_xlim())
        above.set_xticks(
            [float(np.interp(tick, way, self.at)) for tick in ticks], [f"{t:,.0f}" for t in ticks]
        )
        above.spines["top"].set_visible(True)
        above.set_xlabel(f"{self.unit} since fitting")

    def _level_label(self) -> str:
        if self.course.by_distance:
            return f"{self.unit} since fitting"
        if self.life.distance is None:
            return "years since fitting"
        rate = rounded(from_km(self.course.km_per_year, self.unit))
        when = " from today" if self.course.own is not None else ""
        return f"years since fitting (at {rate} {self.unit} a year{when})"

    def _shown(self, at: Array) -> Array:
        return np.asarray(from_km(1.0, self.unit) * at if self.course.by_distance else at)

    def _unit_words(self) -> str:
        return f"{self.unit} since fitting" if self.course.by_distance else "years since fitting"

    def _place(self, share: float, good: Array) -> str:
        if good[-1] > share:
            return "beyond the picture"
        return rounded(float(np.interp(-share, -good, self._shown(self.at))))


def _survival(life: Life, course: Course, at: Array) -> Array:
    return np.asarray(life.survival(**_own_clocks(life, course, at)))


def _draws(life: Life, course: Course, at: Array) -> Array:
    return np.asarray(np.exp(-life.cumulative_hazard_draws(**_own_clocks(life, course, at))))


def _own_clocks(life: Life, course: Course, at: Array) -> dict[str, Array]:
    both = course.clocks(at)
    names = {"distance": "km", "age": "years"}
    return {names[clock]: both[names[clock]] for clock in life.clocks}


def _end(life: Life, course: Course, curve: SurvivalCurve | None) -> float:
    """Where nearly all are worn out, doubled steps until there; never short of the records or of this part."""
    end = 1.0
    while end < 1e7 and float(_survival(life, course, np.array([end]))[0]) > _WORN_OUT:
        end *= 1.15
    seen = 0.0
    if curve is not None:
        seen = max(
            [*curve.times, *(mass.left for mass in curve.masses if math.isinf(mass.right))], default=0.0
        )
    own = 0.0 if course.own is None else 1.08 * max(course.own.years, *(course.own.window or (0.0,)))
    return max(end, 1.05 * seen, own)
