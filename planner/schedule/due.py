"""When one part is due: a window with what decides it, its status today and the reason in words."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Literal, Protocol

from planner.errors import UsageError
from planner.schedule.arithmetic import DECIDERS, Driven, DueDays, Fitted, Rules, due_days
from planner.schedule.wording import due_in_words
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    import numpy as np

    from planner.interval import Cap, Interval
    from planner.usage import Usage

Decides = Literal["distance", "age", "cap", "risk limit", "run to failure"]
Status = Literal["due now", "soon", "later", "run to failure"]

SOON_DAYS = 366
"""A part whose likely day lies within a year belongs to the next visits: "soon"."""


class FittedDates(Protocol):
    """The earliest, likely and latest day on which a part may have been fitted."""

    @property
    def earliest(self) -> date:
        """First possible day."""

    @property
    def likely(self) -> date:
        """Likely day."""

    @property
    def latest(self) -> date:
        """Last possible day."""


@dataclass(frozen=True)
class InService:
    """A part in one position on one car, still fitted.

    Attributes:
        fitted: earliest, likely and latest day of fitting.
        age_unknown: nobody knows when it was fitted; it is treated as old.
        fitted_km: low, likely and high odometer at fitting, kilometres; of no use for a car without any reading,
            whose distance is then counted from its yearly distance.
        clocks: the clocks that wear it, "distance" and "age".

    Raises:
        UsageError: days or odometers out of order or not finite, or no clock.
    """

    fitted: FittedDates
    age_unknown: bool
    fitted_km: tuple[float, float, float]
    clocks: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.fitted.earliest <= self.fitted.likely <= self.fitted.latest:
            raise UsageError("fitted", "earliest, likely and latest day in this order", self.fitted)
        low, likely, high = self.fitted_km
        if not (math.isfinite(low) and math.isfinite(high) and low <= likely <= high):
            raise UsageError("fitted_km", "low, likely and high odometer in this order", self.fitted_km)
        if not self.clocks or set(self.clocks) - {"distance", "age"}:
            raise UsageError("clocks", '"distance", "age" or both', self.clocks)


@dataclass(frozen=True)
class DueDates:
    """The days that don't depend on today; what is stored. None for never.

    Attributes:
        earliest, likely, latest: the window.
        limit: the day of the hard cap, which nothing passes; None without a cap.
        decides: what decides the likely day.
        age_unknown: the part was treated as old.
        to_a_limit: what ends its life is a measured limit, reached before it fails; only the words change.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    limit: date | None
    decides: Decides
    age_unknown: bool = False
    to_a_limit: bool = False

    def as_of(self, today: date) -> DueWindow:
        """The window seen from a day: what is past is due now, which is that day; a limit that is past decides."""
        earliest, likely, latest = (
            _not_before(today, day) for day in (self.earliest, self.likely, self.latest)
        )
        status = status_on(earliest, likely, today)
        seen = replace(self, decides="cap") if self.limit is not None and self.limit <= today else self
        return DueWindow(
            earliest, likely, latest, seen.decides, status, due_in_words(seen, status, today), self.limit
        )


@dataclass(frozen=True)
class DueWindow:
    """When a part is due, seen from one day.

    Attributes:
        earliest, likely, latest: the window; a day already past reads as the day it is seen from; None for a part
            that is run to failure.
        decides: "distance", "age", "cap", "risk limit" or "run to failure".
        status: "due now" (likely day reached), "soon" (window open, or likely within a year), "later", or "run to
            failure".
        reason: why, in words.
        limit: the day of the hard cap, as it is even when past; None without a cap.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    decides: Decides
    status: Status
    reason: str
    limit: date | None = None


def due_window(part: InService, usage: Usage, interval: Interval, cap: Cap, today: date) -> DueWindow:
    """When a part is due, as seen from `today`; see `due_dates`."""
    return due_dates(part, usage, interval, cap).as_of(today)


def due_dates(part: InService, usage: Usage, interval: Interval, cap: Cap) -> DueDates:
    """The due days of a part, independent of today.

    Give the interval at the yearly distance of the part's own path (`planner.schedule.own_path`), so that a car
    whose use has changed is not held to kilometres it was never meant to reach.
    """
    days = due_days(_fitted(part, usage), _driven(usage), _rules(interval, cap))
    return DueDates(
        earliest=_day(days.earliest),
        likely=_day(days.likely),
        latest=_day(days.latest),
        limit=_day(days.limit),
        decides=_decider(days),
        age_unknown=part.age_unknown,
    )


def _fitted(part: InService, usage: Usage) -> Fitted:
    low, likely, high = _odometer_at_fitting(part, usage)
    days = (part.fitted.earliest, part.fitted.likely, part.fitted.latest)
    early, middle, late = (float(day.toordinal()) for day in days)
    by_distance, by_age = "distance" in part.clocks, "age" in part.clocks
    return Fitted(early, middle, late, low, likely, high, part.age_unknown, by_distance, by_age)


def _driven(usage: Usage) -> Driven:
    return Driven(
        as_of=float(usage.as_of.toordinal()),
        km=0.0 if usage.km_at_as_of is None else usage.km_at_as_of,
        km_per_year=usage.km_per_year,
        low=min(usage.low, usage.km_per_year),
        high=max(usage.high, usage.km_per_year),
        ahead=usage.ahead or None,
    )


def _odometer_at_fitting(part: InService, usage: Usage) -> tuple[float, float, float]:
    """Low, likely and high odometer at fitting; without any reading, counted back from zero at the usual distance."""
    if usage.km_at_as_of is not None:
        return part.fitted_km
    early, likely, late = (
        max(0.0, (usage.as_of - day).days / DAYS_PER_YEAR)
        for day in (part.fitted.earliest, part.fitted.likely, part.fitted.latest)
    )
    return -usage.high * early, -usage.km_per_year * likely, -usage.low * late


def _rules(interval: Interval, cap: Cap) -> Rules:
    low, high = interval.within_5_percent
    return Rules(
        km=math.inf if interval.km is None else interval.km,
        years=interval.years,
        low_years=low if math.isfinite(interval.years) else math.inf,
        high_years=high,
        at_risk_limit=interval.bound_by == "risk",
        at_cap=interval.bound_by == "cap",
        distance_wears_most=interval.wears_most == "distance",
        cap_km=math.inf if cap.km is None else cap.km,
        cap_years=math.inf if cap.years is None else cap.years,
    )


def _decider(days: DueDays) -> Decides:
    decides: Decides = DECIDERS[int(days.decides)]  # type: ignore[assignment]  # the tuple holds exactly these words
    return decides


def _day(ordinal: np.ndarray) -> date | None:
    value = float(ordinal)
    if math.isinf(value):
        return None
    return date.fromordinal(int(min(max(math.floor(value), 1), date.max.toordinal())))


def _not_before(today: date, day: date | None) -> date | None:
    return None if day is None else max(today, day)


def status_on(earliest: date | None, likely: date | None, today: date) -> Status:
    """How near a window is, seen from a day; see `DueWindow.status`."""
    if likely is None:
        return "run to failure"
    if likely <= today:
        return "due now"
    open_now = earliest is not None and earliest <= today
    return "soon" if open_now or (likely - today).days <= SOON_DAYS else "later"
