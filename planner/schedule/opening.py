"""When visits may fall: open months, closing days, and outside the driving season."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.errors import UsageError
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

WEEK = 7
"""Visits are placed to the week."""


@dataclass(frozen=True)
class Season:
    """The driving season, the same every year; work is done before its first drive or after its last.

    Attributes:
        start, end: (month, day) of its first and last day; it may run over New Year.

    Raises:
        UsageError: not a month and day that every year has.
    """

    start: tuple[int, int]
    end: tuple[int, int]

    def __post_init__(self) -> None:
        for field, (month, day) in (("season.start", self.start), ("season.end", self.end)):
            try:
                date(2023, month, day)
            except ValueError:
                raise UsageError(field, "a month and a day that every year has", (month, day)) from None

    def holds(self, day: date) -> bool:
        """Whether a day lies in the season."""
        at = (day.month, day.day)
        if self.start <= self.end:
            return self.start <= at <= self.end
        return at >= self.start or at <= self.end


def weeks_from(today: date, years: float) -> list[date]:
    """The days on which weeks begin, from today on, over so many years; at least one."""
    weeks = max(1, math.ceil(years * DAYS_PER_YEAR / WEEK))
    return [today + timedelta(days=WEEK * week) for week in range(weeks)]


def open_weeks(
    begins: Sequence[date], closed: Mapping[date, bool], months: Sequence[int], season: Season | None
) -> list[bool]:
    """Which weeks a visit may fall in: any of its days open, its first day in an open month and out of season.

    A week in which the season starts counts as before it, if its first day does.
    """
    return [
        begin.month in months
        and not (season is not None and season.holds(begin))
        and any(not closed.get(begin + timedelta(days=day), False) for day in range(WEEK))
        for begin in begins
    ]
