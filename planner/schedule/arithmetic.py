"""Due days of any number of parts as array arithmetic: no today, no words, only days and kilometres."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from planner.usage import RoadAhead

Array = NDArray[np.float64]
Numbers = float | Array
Flags = bool | NDArray[np.bool_]

DECIDERS = ("distance", "age", "cap", "risk limit", "run to failure")
"""What can decide a due day, in the order of the codes in `DueDays.decides`."""

_DISTANCE, _AGE, _CAP, _RISK, _RUN = range(5)
_TOGETHER = 0.1


@dataclass(frozen=True)
class Fitted:
    """Parts in service; each field a number or an array, and all of them broadcast.

    Attributes:
        early, likely, late: day of fitting (proleptic Gregorian ordinal, as `date.toordinal`).
        km_low, km_likely, km_high: odometer at fitting, kilometres.
        age_unknown: fitted nobody knows when: treated as old.
        by_distance, by_age: the clocks that wear the part.
    """

    early: Numbers
    likely: Numbers
    late: Numbers
    km_low: Numbers
    km_likely: Numbers
    km_high: Numbers
    age_unknown: Flags
    by_distance: Flags
    by_age: Flags


@dataclass(frozen=True)
class Driven:
    """How the cars are used: odometer on a day, and yearly distance with its 10 % and 90 % points, kilometres.

    Attributes:
        as_of, km: the day (ordinal) and the odometer on it.
        km_per_year, low, high: yearly distance.
        ahead: tours and lay-ups planned from that day on, the same for all parts of one call; None: as usual.
    """

    as_of: Numbers
    km: Numbers
    km_per_year: Numbers
    low: Numbers
    high: Numbers
    ahead: RoadAhead | None = None


@dataclass(frozen=True)
class Rules:
    """Intervals and caps from fitting; infinite where there is none.

    Attributes:
        km, years: the interval on the car's path (km NaN or infinite where distance doesn't advance).
        low_years, high_years: the range within 5 % of the best cost.
        at_risk_limit, at_cap: the interval is bound by the risk limit, or by a cap.
        distance_wears_most: breaks the tie where both clocks come together.
        cap_km, cap_years: hard cap.
    """

    km: Numbers
    years: Numbers
    low_years: Numbers
    high_years: Numbers
    at_risk_limit: Flags
    at_cap: Flags
    distance_wears_most: Flags
    cap_km: Numbers = np.inf
    cap_years: Numbers = np.inf


@dataclass(frozen=True)
class DueDays:
    """Days on which work is due (ordinals, infinite for never), not yet compared with any today.

    Attributes:
        earliest, likely, latest: the window, in this order and never past `limit`.
        limit: the day of the hard cap at the high yearly distance and the earliest possible fitting.
        decides: index into `DECIDERS`.
    """

    earliest: Array
    likely: Array
    latest: Array
    limit: Array
    decides: NDArray[np.int8]


def due_days(part: Fitted, use: Driven, rule: Rules) -> DueDays:
    """When each part is due.

    Likely is the interval reached at the likely yearly distance, whichever clock comes first. Earliest and latest
    are the ends of the range within 5 % of the best cost, reached at the high and at the low yearly distance from
    the earliest and the latest possible fitting. A part of unknown age counts from its earliest possible fitting
    and lowest odometer. A hard cap is always counted that way and at the high yearly distance, and no day is later.
    """
    unknown = np.asarray(part.age_unknown, dtype=bool)
    likely_from = np.where(unknown, part.early, part.likely), np.where(unknown, part.km_low, part.km_likely)
    late_from = np.where(unknown, part.early, part.late), np.where(unknown, part.km_low, part.km_high)
    limit = _limit(part, use, rule)
    by_km, by_age = _clocks(part, use, likely_from, (rule.km, rule.years), use.km_per_year)
    likely = np.minimum(by_km, by_age)
    low_km, high_km = _scaled(rule, rule.low_years), _scaled(rule, rule.high_years)
    early = np.minimum(*_clocks(part, use, (part.early, part.km_low), (low_km, rule.low_years), use.high))
    late = np.minimum(*_clocks(part, use, late_from, (high_km, rule.high_years), use.low))
    late = np.where(
        np.asarray(rule.at_risk_limit) | np.asarray(rule.at_cap), likely, np.maximum(late, likely)
    )
    decides = _decides(rule, by_km, by_age, limit)
    likely = np.minimum(likely, limit)
    return DueDays(np.minimum(early, likely), likely, np.minimum(late, limit), limit, decides)


def reached_on(use: Driven, fitted_km: Numbers, km: Numbers, rate: Numbers) -> Array:
    """Day on which a part has run `km` since its fitting at odometer `fitted_km`; never if the car stands still.

    What is already reached lies back at the same rate, so that the day doesn't move with the day of the odometer; on
    a car that stands still it counts as reached on that day. What is planned changes the days ahead only.
    """
    left = np.asarray(km) - (np.asarray(use.km, dtype=np.float64) - fitted_km)
    with np.errstate(divide="ignore", invalid="ignore"):
        ahead = np.where((left > 0) | (np.asarray(rate) > 0), left / rate, 0.0)
    straight = np.maximum(np.asarray(use.as_of + ahead * DAYS_PER_YEAR, dtype=np.float64), 1.0)
    if not use.ahead:
        return straight
    return np.where(left > 0, use.ahead.day_after(use.as_of, np.maximum(left, 0.0), rate), straight)


def _clocks(
    part: Fitted,
    use: Driven,
    start: tuple[Numbers, Numbers],
    limit: tuple[Numbers, Numbers],
    rate: Numbers,
) -> tuple[Array, Array]:
    fitted, fitted_km = start
    km, years = limit
    km = np.where(np.isnan(km), np.inf, km)
    by_km = np.where(part.by_distance, reached_on(use, fitted_km, km, rate), np.inf)
    by_age = np.where(part.by_age, fitted + np.asarray(years) * DAYS_PER_YEAR, np.inf)
    return by_km, by_age


def _limit(part: Fitted, use: Driven, rule: Rules) -> Array:
    by_age = part.early + np.asarray(rule.cap_years) * DAYS_PER_YEAR
    by_km = reached_on(use, part.km_low, rule.cap_km, use.high)
    if use.ahead:
        as_usual = reached_on(replace(use, ahead=None), part.km_low, rule.cap_km, use.high)
        by_km = np.minimum(by_km, as_usual)
    return np.minimum(by_age, by_km)


def _scaled(rule: Rules, years: Numbers) -> Array:
    with np.errstate(invalid="ignore", divide="ignore"):
        km = np.asarray(rule.km) * (np.asarray(years) / np.asarray(rule.years))
    return np.where(np.isinf(rule.km) | np.isnan(km), np.inf, km)


def _decides(rule: Rules, by_km: Array, by_age: Array, limit: Array) -> NDArray[np.int8]:
    near = _TOGETHER * DAYS_PER_YEAR * np.where(np.isfinite(rule.years), rule.years, 0.0)
    with np.errstate(invalid="ignore"):
        together = np.abs(by_km - by_age) <= near
    first = np.where(together, rule.distance_wears_most, by_km < by_age)
    code = np.where(first, _DISTANCE, _AGE)
    code = np.where(np.isinf(np.minimum(by_km, by_age)), _RUN, code)
    code = np.where(rule.at_risk_limit, _RISK, code)
    capped = np.asarray(rule.at_cap) | (limit <= np.minimum(by_km, by_age)) & np.isfinite(limit)
    return np.where(capped, _CAP, code).astype(np.int8)
