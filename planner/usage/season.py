"""The months in which a car is driven: shares of the year's distance, and time measured in them."""

from __future__ import annotations

import calendar
import itertools
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from planner.history.dial import Point

Shares = tuple[float, ...]

NORTHERN_SEASON: Shares = (0.02, 0.02, 0.05, 0.10, 0.13, 0.13, 0.13, 0.13, 0.12, 0.09, 0.05, 0.03)
"""Share of the year's distance by month, January first, of a cherished car north of the equator: 83 % from April to October
(expert judgement, about 15 outings a year). South of it, turn it by six months."""

PRIOR_YEARS = 2.0
"""How many years of monthly readings the typical season weighs."""

LONGEST_STRETCH_YEARS = 0.75
"""Only readings closer together than this say anything about the season."""


def checked_shares(shares: Sequence[float], field: str) -> Shares:
    """Twelve positive shares, scaled to sum to one.

    Raises:
        UsageError: not twelve finite numbers above 0.
    """
    values = np.asarray(shares, dtype=float)
    if values.shape != (12,) or not np.all(np.isfinite(values)) or values.min() <= 0:
        raise UsageError(field, "twelve finite shares above 0, January first", shares)
    return tuple(float(share) for share in values / values.sum())


def seasonal_years(day: date, shares: Shares) -> float:
    """A day as a year number whose decimals are the share of the year's distance driven so far."""
    in_month = (day.day - 1) / calendar.monthrange(day.year, day.month)[1]
    return day.year + sum(shares[: day.month - 1]) + shares[day.month - 1] * in_month


def day_at(years: float, shares: Shares) -> date:
    """The day at a year number of `seasonal_years` (to the day before; `date.max` beyond the calendar)."""
    year = int(np.floor(years))
    if year >= date.max.year:
        return date.max
    left, month = years - year, 0
    while month < 11 and left >= shares[month]:
        left -= shares[month]
        month += 1
    days = calendar.monthrange(year, month + 1)[1]
    return date(year, month + 1, 1) + timedelta(days=min(days - 1, int(left / shares[month] * days + 1e-9)))


def shares_from(points: Sequence[Point], prior: Shares, *, rounds: int = 25) -> Shares:
    """The car's own season, from readings close together, drawn towards the typical one.

    Each stretch between two readings is laid over its months in proportion to the shares so far, and the shares taken anew
    from what fell on each month per time spent in it (expectation-maximisation, `rounds` times), with `PRIOR_YEARS` years of
    the typical season added.

    Args:
        points: true odometer points in order of time.
        prior: the typical season.
        rounds: how often to repeat; 25 settles the third decimal.

    Returns:
        Twelve shares that sum to one; the prior itself where no two readings with driving between them stand close enough.
    """
    stretches = list(_stretches(points))
    if sum(km for _, km in stretches) <= 0.0:
        return prior
    exposure = np.array([months for months, _ in stretches])
    driven = np.array([km for _, km in stretches])
    typical = np.array(prior)
    shares = typical.copy()
    for _ in range(rounds):
        expected = exposure * shares
        rate = driven.sum() / expected.sum()
        by_month = (driven[:, None] * expected / expected.sum(axis=1, keepdims=True)).sum(axis=0)
        shares = (PRIOR_YEARS * typical * rate + by_month) / (PRIOR_YEARS + exposure.sum(axis=0))
        shares /= shares.sum()
    return tuple(float(share) for share in shares)


def _stretches(
    points: Sequence[Point],
) -> Iterator[tuple[NDArray[np.float64], float]]:
    """Months covered (fractions of each calendar month) and km driven between readings close together."""
    for start, end in itertools.pairwise(points):
        days = (end.on - start.on).days
        if 0 < days <= LONGEST_STRETCH_YEARS * 365.25:
            yield _months_between(start.on, end.on), end.km - start.km


def _months_between(start: date, end: date) -> NDArray[np.float64]:
    """Fractions of each calendar month from one day up to another."""
    months, day = np.zeros(12), start
    while day < end:
        length = calendar.monthrange(day.year, day.month)[1]
        until = min(end, day.replace(day=1) + timedelta(days=length))
        months[day.month - 1] += (until - day).days / length
        day = until
    return months
