"""Work by date: one car's parts with their windows, and how much comes due week by week."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal

from planner.errors import InputError
from planner.figures import look
from planner.figures.picture import Picture, plain
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class TimelineRow:
    """One part on a timeline.

    Attributes:
        label: the part as its keeper knows it.
        earliest, likely, latest: its window; no likely day for a part that is run to failure, no latest one for a
            window without an end.
        limit: day of a hard cap; None without one.
    """

    label: str
    earliest: date | None
    likely: date | None
    latest: date | None
    limit: date | None = None


def timeline(rows: Sequence[TimelineRow], *, today: date, years: float) -> Picture:
    """One car's parts with their windows over the years ahead, in the given order.

    Args:
        rows: the parts.
        today: where the timeline begins; what was due before stands at its left edge.
        years: how far it reaches.

    Raises:
        InputError: a span that is not above 0.
    """
    if not 0 < years <= 60:
        raise InputError("years", "a span above 0 and at most 60 years", years)
    drawing = _Timeline(tuple(rows), today, years)
    return Picture(
        "When each part is due",
        drawing.words(),
        drawing.draw,
        lambda narrow: 1.2 + (0.5 if narrow else 0.3) * max(len(rows), 1),
    )


@dataclass(frozen=True)
class _Timeline:
    rows: tuple[TimelineRow, ...]
    today: date
    years: float

    def draw(self, axes: Axes, narrow: bool) -> None:
        for place, row in enumerate(self.rows):
            self._row(axes, place, row, narrow=narrow)
        axes.set_ylim(len(self.rows) - 0.4, -0.8 if narrow else -0.6)
        axes.set_xlim(-0.012 * self.years, self.years)
        axes.set_yticks(
            [] if narrow else range(len(self.rows)), [] if narrow else [plain(r.label) for r in self.rows]
        )
        axes.tick_params(axis="y", length=0)
        ticks = _date_ticks(self.today, self.years, most=4 if narrow else 8)
        axes.set_xticks([place for place, _ in ticks], [label for _, label in ticks])
        axes.grid(axis="x")
        axes.spines["left"].set_visible(False)
        axes.axvline(0.0, color=look.INK, linewidth=1.2)
        self._key(axes, narrow=narrow)

    def _row(self, axes: Axes, place: int, row: TimelineRow, *, narrow: bool) -> None:
        if narrow:
            label = axes.text(
                0.005 * self.years, place - 0.42, plain(row.label), fontsize=8.5, va="center", clip_on=True
            )
            label.set_in_layout(False)  # however long, it takes no room from the axis
        if row.likely is None:
            self._said(axes, place, "run to failure")
            return
        start, likely = self._at(row.earliest or row.likely), self._at(row.likely)
        end = self.years if row.latest is None else min(self._at(row.latest), self.years)
        if start < self.years:
            axes.barh(place, max(end - start, 0.008 * self.years), left=start, height=0.34,
                      color=look.BAND, edgecolor=look.MODEL, linewidth=0.8)  # fmt: skip
        else:
            self._said(axes, place, f"later: likely {row.likely.year}", at=0.99, align="right")
        if likely <= self.years:
            overdue = row.likely <= self.today
            axes.plot([likely], [place], marker="D", markersize=6.5, color=look.SEEN if overdue else look.MODEL,
                      markeredgecolor=look.INK, clip_on=False, zorder=4)  # fmt: skip
        if row.limit is not None and self._at(row.limit) <= self.years:
            at = self._at(row.limit)
            axes.plot(
                [at, at],
                [place - 0.3, place + 0.3],
                color=look.INK,
                linewidth=2.6,
                solid_capstyle="butt",
                clip_on=False,
                zorder=3,
            )

    def _said(
        self,
        axes: Axes,
        place: int,
        words: str,
        *,
        at: float = 0.01,
        align: Literal["left", "right"] = "left",
    ) -> None:
        """Words in place of a window that is not in the picture."""
        axes.text(
            at * self.years, place, words, fontsize=8, va="center", ha=align, color=look.FAINT, style="italic"
        )

    def _key(self, axes: Axes, *, narrow: bool) -> None:
        window = "window: costs within 5 % of the best"
        axes.plot(
            [],
            [],
            marker="s",
            markersize=9,
            linestyle="none",
            color=look.BAND,
            markeredgecolor=look.MODEL,
            label=window,
        )
        axes.plot(
            [],
            [],
            marker="D",
            linestyle="none",
            color=look.MODEL,
            markeredgecolor=look.INK,
            label="likely day",
        )
        if any(row.likely is not None and row.likely <= self.today for row in self.rows):
            axes.plot(
                [],
                [],
                marker="D",
                linestyle="none",
                color=look.SEEN,
                markeredgecolor=look.INK,
                label="due now",
            )
        if any(row.limit is not None for row in self.rows):
            axes.plot(
                [], [], marker="|", markeredgewidth=2.6, linestyle="none", color=look.INK, label="hard limit"
            )
        look.key(axes, narrow=narrow, columns=4)

    def words(self) -> str:
        """The first parts due, and how many there are."""
        if not self.rows:
            return "No part is on record."
        dated = [row for row in self.rows if row.likely is not None]
        late = sum(1 for row in dated if row.likely is not None and row.likely <= self.today)
        first = "; ".join(
            f"{plain(row.label)} {_month(row.likely)}" for row in dated[:3] if row.likely is not None
        )
        text = f"{len(self.rows)} parts, {late} of them due now."
        return f"{text} First by their likely day: {first}." if first else text

    def _at(self, day: date) -> float:
        return max((day - self.today).days / DAYS_PER_YEAR, 0.0)


def weeks_ahead(counts: Sequence[int], *, first: date, due_before: int = 0) -> Picture:
    """How many parts have their likely day in each of the weeks ahead.

    Args:
        counts: parts per week, the first week first.
        first: the first day of the first week.
        due_before: parts that were due before it; shown as a bar of its own at the left.
    """
    drawing = _Weeks(tuple(counts), first, due_before)
    return Picture(
        "Work in the weeks ahead", drawing.words(), drawing.draw, lambda narrow: 2.3 if narrow else 2.4
    )


@dataclass(frozen=True)
class _Weeks:
    counts: tuple[int, ...]
    first: date
    due_before: int

    def draw(self, axes: Axes, narrow: bool) -> None:
        bars = axes.bar(
            range(len(self.counts)),
            self.counts,
            width=0.78,
            color=look.BAND,
            edgecolor=look.MODEL,
            linewidth=0.8,
        )
        axes.bar_label(bars, [str(n) if n else "" for n in self.counts], fontsize=7.5, padding=1)
        top = max([*self.counts, 1])
        if self.due_before:
            late = axes.bar(
                [-1.6],
                [min(self.due_before, 1.25 * top)],
                width=1.1,
                color=look.SEEN,
                edgecolor=look.INK,
                linewidth=0.8,
                hatch="//",
            )
            axes.bar_label(late, [str(self.due_before)], fontsize=8, fontweight="bold", padding=1)
        axes.set_ylim(0, 1.45 * top)
        axes.set_yticks([])
        axes.spines["left"].set_visible(False)
        axes.set_xlim(-2.4 if self.due_before else -0.6, len(self.counts) - 0.4)
        ticks = [(-1.6, "due\nnow")] if self.due_before else []
        months = _week_ticks(self.first, len(self.counts), every=2 if narrow else 1)
        ticks += [(at, label) for at, label in months if at >= 3 or not (narrow and self.due_before)]
        axes.set_xticks([at for at, _ in ticks], [label for _, label in ticks])
        axes.set_xlabel("week of the likely day")

    def words(self) -> str:
        """What is due now and the busiest week."""
        text = f"{self.due_before} due now, {sum(self.counts)} in the {len(self.counts)} weeks ahead."
        if not any(self.counts):
            return text
        busiest = max(range(len(self.counts)), key=lambda week: self.counts[week])
        day = self.first + timedelta(weeks=busiest)
        return f"{text} The fullest week begins on {day.day} {_month(day)} with {self.counts[busiest]}."


def _month(day: date | None) -> str:
    return "" if day is None else f"{_MONTHS[day.month - 1]} {day.year}"


def _date_ticks(today: date, years: float, most: int) -> list[tuple[float, str]]:
    """Round places on a calendar axis, in years from today: months, quarters, half-years or years."""
    step = next((months for months in (1, 3, 6, 12, 24, 60, 120) if years * 12 / months <= most), 240)
    start = today.year * 12 + today.month  # counted from 0, so this is the month after today's
    ticks: list[tuple[float, str]] = []
    for month in range(start + -start % step, start + round(years * 12) + 1, step):
        day = date(month // 12, month % 12 + 1, 1)
        at = (day - today).days / DAYS_PER_YEAR
        if at <= years:
            ticks.append((at, str(day.year) if step >= 12 else _month(day)))
    return ticks


def _week_ticks(first: date, weeks: int, every: int) -> list[tuple[float, str]]:
    """The weeks in which a month begins."""
    days = [first + timedelta(weeks=week) for week in range(weeks)]
    begins = [week for week, day in enumerate(days) if week == 0 or day.month != days[week - 1].month]
    kept = begins[1:] if len(begins) > 1 and begins[1] < 2 else begins
    return [(float(week), f"{_MONTHS[days[week].month - 1]}\n{days[week].year}") for week in kept[::every]]
