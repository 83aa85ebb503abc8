"""What a keeper knows of the road ahead: a tour of so many kilometres, a lay-up; the rest of the time goes on as usual."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import UsageError
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterator

Array = NDArray[np.float64]

LONGEST_DAYS = 3_660
"""Ten years: no plan looks further."""

MOST_KM = 100_000.0


@dataclass(frozen=True, order=True)
class PlannedUse:
    """Days of which the distance is known: a tour, or a lay-up with none.

    Attributes:
        starts_on, ends_on: first and last day.
        km: distance over those days, in place of what would usually be driven in them.

    Raises:
        UsageError: the days are in the wrong order or more than ten years, or the distance is negative or not finite.
    """

    starts_on: date
    ends_on: date
    km: float

    def __post_init__(self) -> None:
        days = (self.ends_on - self.starts_on).days
        if not 0 <= days < LONGEST_DAYS:
            raise UsageError("ends_on", "a day from starts_on on, within ten years", self.ends_on)
        if not (math.isfinite(self.km) and 0.0 <= self.km <= MOST_KM):
            raise UsageError("km", f"a distance from 0 to {MOST_KM:,.0f} km", self.km)

    @property
    def day_after(self) -> date:
        """The first day after it."""
        return self.ends_on + timedelta(days=1)

    @property
    def days(self) -> int:
        """How many days it takes."""
        return (self.day_after - self.starts_on).days

    @property
    def span(self) -> tuple[float, float]:
        """From the start of the first day to the end of the last (ordinals)."""
        return float(self.starts_on.toordinal()), float(self.ends_on.toordinal() + 1)


@dataclass(frozen=True)
class RoadAhead:
    """Everything that is planned for one car, in order of time and without overlap; empty: nothing.

    Raises:
        UsageError: two plans share a day.
    """

    plans: tuple[PlannedUse, ...] = ()

    def __post_init__(self) -> None:
        in_order = tuple(sorted(self.plans))
        for one, other in pairwise(in_order):
            if other.starts_on <= one.ends_on:
                raise UsageError(
                    "starts_on", f"a day after {one.ends_on}, when the plan before it ends", other.starts_on
                )
        object.__setattr__(self, "plans", in_order)

    def __bool__(self) -> bool:
        return bool(self.plans)

    def from_day(self, day: date) -> RoadAhead:
        """Only the plans that reach that day or a later one."""
        return RoadAhead(tuple(plan for plan in self.plans if plan.ends_on >= day))

    def km_between(self, start: float, end: ArrayLike, km_per_year: ArrayLike) -> Array:
        """Distance from one day to others (ordinals), at a yearly distance outside the plans.

        Args:
            start: the day from which it counts.
            end: days, none before `start`.
            km_per_year: usual yearly distance, of the same shape as `end` or one for all.
        """
        until = np.asarray(end, dtype=np.float64)
        free, planned = until - start, np.zeros_like(until)
        for plan in self.plans:
            first, last = plan.span
            inside = np.maximum(np.minimum(until, last) - max(start, first), 0.0)
            free = free - inside
            planned = planned + plan.km * inside / (last - first)
        return np.asarray(free * np.asarray(km_per_year) / DAYS_PER_YEAR + planned)

    def day_after(self, start: ArrayLike, km: ArrayLike, km_per_year: ArrayLike) -> Array:
        """The day (ordinal) on which so many kilometres from a day on have been driven; infinite for never.

        Args:
            start: the day from which they count (ordinal).
            km: kilometres ahead, 0 or more; infinite ones are never reached.
            km_per_year: usual yearly distance, 0 or more.
        """
        at, left, pace = np.broadcast_arrays(
            *(np.asarray(value, dtype=np.float64) for value in (start, km, km_per_year))
        )
        daily, found = pace / DAYS_PER_YEAR, np.full(at.shape, np.nan)
        for end, each in self._stretches(daily):
            days = np.maximum(end - at, 0.0)
            with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
                gained = np.where(days > 0, days * each, 0.0)
                hit = np.isnan(found) & (left <= gained) & np.isfinite(left)
                found = np.where(hit, at + np.where(left > 0, left / each, 0.0), found)
            left, at = left - gained, at + days
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            tail = np.where(left > 0, at + left / daily, at)
        return np.where(np.isnan(found), tail, found)

    def _stretches(self, daily: Array) -> Iterator[tuple[float, Array]]:
        """(end, kilometres a day) of each stretch up to the end of the last plan."""
        for plan in self.plans:
            first, last = plan.span
            yield first, daily
            yield last, np.full_like(daily, plan.km / (last - first))


NOTHING_PLANNED = RoadAhead()
