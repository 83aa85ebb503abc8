"""A car's yearly distance with its spread: what its odometer says, held against what such cars are driven."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING

from planner.errors import UsageError
from planner.usage.planned import NOTHING_PLANNED, RoadAhead
from planner.usage.season import NORTHERN_SEASON, Shares, checked_shares, day_at, seasonal_years, shares_from
from planner.usage.slope import LayUp, Slope, robust_slope

if TYPE_CHECKING:
    from planner.history.odometer import OdometerTrack

YEAR_TO_YEAR = 0.47
"""Scatter of one year's distance around the car's own mean, sd of the log: a half either way (expert judgement)."""

AHEAD_YEARS = 3.0
"""The spread is that of the mean over so many coming years: the span that most work is planned over."""

LEAST_KM_PER_YEAR = 50.0
"""No car that is kept is driven less: it is moved about."""

STANDING_PACE = 100.0
"""What a car that stands is expected to be moved about in a year, km (expert judgement)."""

_Z90 = 1.2815515655446004  # 90 % point of the standard normal


@dataclass(frozen=True)
class UsagePrior:
    """What such cars are driven, before this car's readings.

    Surveys of historic cars give means of 936 to 3,560 km a year (world 1,413, about 55,000 owners); the lognormal with median
    1,400 km and sd 0.9 of the log is expert judgement on top of them.

    Attributes:
        median: yearly distance that half of the cars exceed, in km.
        spread: sd of its natural log between cars.
        season: share of the distance by month, January first; scaled to sum to one.
    """

    median: float = 1_400.0
    spread: float = 0.9
    season: Shares = NORTHERN_SEASON

    def __post_init__(self) -> None:
        if not (math.isfinite(self.median) and 0.0 < self.median <= 200_000.0):
            raise UsageError("median", "km per year above 0, at most 200,000", self.median)
        if not (math.isfinite(self.spread) and 0.0 < self.spread <= 3.0):
            raise UsageError("spread", "an sd of the log above 0, at most 3", self.spread)
        object.__setattr__(self, "season", checked_shares(self.season, "season"))


@dataclass(frozen=True)
class Usage:
    """How far a car goes in a year.

    Attributes:
        km_per_year: likely (median) distance of a coming year.
        low, high: 10 % and 90 % points of the mean over the next few years.
        as_of: the day this was said.
        km_at_as_of: likely true km on that day; None where the odometer was never read.
        basis: what it rests on, in words.
        season: share of the distance by month, January first.
        lay_ups: stretches in which the car stood.
        from_readings: how much of the figure is the car's own readings, 0 (typical car) to 1.
        ahead: tours and lay-ups that the keeper knows of; the rest of the time goes on as usual.
    """

    km_per_year: float
    low: float
    high: float
    as_of: date
    km_at_as_of: float | None
    basis: str
    season: Shares = NORTHERN_SEASON
    lay_ups: tuple[LayUp, ...] = ()
    from_readings: float = 0.0
    ahead: RoadAhead = NOTHING_PLANNED

    def km_on(self, day: date, km_per_year: float | None = None) -> float:
        """True km expected on a day, through the seasons; never less than on `as_of` for a later day.

        Args:
            day: any day.
            km_per_year: another pace than the likely one (`low`, `high`).

        Raises:
            UsageError: the odometer was never read.
        """
        pace = self.km_per_year if km_per_year is None else km_per_year
        return max(0.0, self._start() + _driven(self.ahead, self.as_of, day, pace, self.season))

    def day_at(self, km: float, km_per_year: float | None = None) -> date:
        """The day on which the car reaches a true distance; `as_of` where it has, `date.max` beyond the calendar.

        Args:
            km: true distance of the car.
            km_per_year: another pace than the likely one.

        Raises:
            UsageError: the odometer was never read.
        """
        pace = self.km_per_year if km_per_year is None else km_per_year
        left = km - self._start()
        if left <= 0:
            return self.as_of
        if self.ahead:
            return self._first_day_at(km, pace)
        return (
            day_at(seasonal_years(self.as_of, self.season) + left / pace, self.season)
            if pace > 0
            else date.max
        )

    def _first_day_at(self, km: float, pace: float) -> date:
        """By halving: plans make the way to it uneven."""
        first, last = self.as_of.toordinal(), date.max.toordinal()
        if self.km_on(date.max, pace) < km:
            return date.max
        while last - first > 1:
            middle = (first + last) // 2
            first, last = (
                (first, middle) if self.km_on(date.fromordinal(middle), pace) >= km else (middle, last)
            )
        return date.fromordinal(last)

    def _start(self) -> float:
        if self.km_at_as_of is None:
            raise UsageError("track", "at least one odometer reading up to the day", "none")
        return self.km_at_as_of


def yearly_distance(
    track: OdometerTrack | None,
    today: date,
    prior: UsagePrior | None = None,
    ahead: RoadAhead = NOTHING_PLANNED,
) -> Usage:
    """A car's yearly distance as it could be told on a day.

    The log of the readings' robust slope and the log of what such cars are driven are averaged by their precision: the slope
    scatters by the year-to-year scatter over the years behind it, the prior by its spread. A car that has stood for a year
    or more up to its last reading is expected to go on standing, with its pace in use as the high end.

    Args:
        track: true distance of the car; readings after `today` are not used; None for a car never read.
        today: the day to speak for.
        prior: what such cars are driven; `UsagePrior()` where left out.
        ahead: tours and lay-ups that the keeper knows of, past ones since the last reading included.
    """
    typical = prior or UsagePrior()
    known = None if track is None else track.until(today)
    if known is None:
        usage = _typical(typical, today, None, "no odometer reading: typical for such cars")
        return replace(usage, ahead=ahead.from_day(today))
    season = shares_from(known.points, typical.season)
    slope = robust_slope(known.points, season)
    if slope.km_per_year is None and slope.standing is None:
        usage = _typical(typical, today, known.last[1], "one reading: typical for such cars")
    else:
        usage = _combined(typical, slope, today, known.last[1], season)
    since = _driven(ahead, known.last[0], today, usage.km_per_year, season)
    return replace(usage, km_at_as_of=known.last[1] + since, ahead=ahead.from_day(today))


def _driven(ahead: RoadAhead, start: date, end: date, pace: float, season: Shares) -> float:
    """Distance between two days: as usual through the seasons, but for what is planned."""
    free, planned = seasonal_years(end, season) - seasonal_years(start, season), 0.0
    for plan in ahead.plans:
        first, last = max(plan.starts_on, start), min(plan.day_after, end)
        if first < last:
            free -= seasonal_years(last, season) - seasonal_years(first, season)
            planned += plan.km * (last - first).days / plan.days
    return free * pace + planned


def _typical(prior: UsagePrior, today: date, km: float | None, basis: str) -> Usage:
    low, high = (prior.median * math.exp(sign * _Z90 * prior.spread) for sign in (-1.0, 1.0))
    return Usage(prior.median, low, high, today, km, basis, prior.season)


def _combined(prior: UsagePrior, slope: Slope, today: date, km: float, season: Shares) -> Usage:
    ahead = YEAR_TO_YEAR**2 / AHEAD_YEARS
    between = max(prior.spread**2 - ahead, 0.25 * prior.spread**2)
    seen, years = slope.km_per_year, slope.years
    precision = years / YEAR_TO_YEAR**2 if seen is not None else 0.0
    share = precision / (precision + 1.0 / between)
    log_seen = math.log(max(seen or 0.0, LEAST_KM_PER_YEAR))
    likely = math.exp(share * log_seen + (1.0 - share) * math.log(prior.median))
    spread = math.sqrt(1.0 / (precision + 1.0 / between) + ahead)
    low, high = likely * math.exp(-_Z90 * spread), likely * math.exp(_Z90 * spread)
    if slope.standing is not None:
        high, likely = max(likely, STANDING_PACE), min(likely, STANDING_PACE)
        low = min(likely, LEAST_KM_PER_YEAR)
    return Usage(likely, low, high, today, km, _basis(slope, share), season, slope.lay_ups, share)


def _basis(slope: Slope, share: float) -> str:
    count = f"{slope.readings} readings" if slope.readings > 1 else "one reading"
    words = f"from {count} over {_length(slope.span_years)}"
    if share < 0.5:
        words += ", mostly typical for such cars"
    if slope.standing is not None:
        return f"{words}; standing since {slope.standing.start}"
    stood = sum(lay_up.years for lay_up in slope.lay_ups)
    return f"{words}; {_length(stood)} of standing left out" if stood else words


def _length(years: float) -> str:
    if years < 0.95:
        months = max(1, round(12.0 * years))
        return f"{months} month{'s' if months > 1 else ''}"
    whole = round(years)
    return f"{whole} year{'s' if whole > 1 else ''}"
