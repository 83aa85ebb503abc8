"""Calendar months ahead, and the chances of failing by their ends."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import InputError
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from planner.risk.exposure import LifeDraws

Array = NDArray[np.float64]


def month_of(day: date) -> date:
    """The first day of a day's month."""
    return day.replace(day=1)


def month_ends(today: date, months: int) -> tuple[date, ...]:
    """The first day after each of so many calendar months, the present one first."""
    first = today.year * 12 + today.month - 1
    ahead = range(first + 1, first + months + 1)
    return tuple(date(number // 12, number % 12 + 1, 1) for number in ahead)


def fails_by_month(
    life: LifeDraws,
    *,
    km: ArrayLike,
    years: ArrayLike,
    today: date,
    months: int,
    km_per_year: ArrayLike = 0.0,
    km_ahead: ArrayLike | None = None,
) -> Array:
    """Chance of having failed by the end of each month, given good today, for any number of parts of one kind.

    Args:
        life: of the kind.
        km: distance since fitting today, shape (n,), like the next one.
        years: age since fitting.
        today: the day.
        months: how many calendar months, the present one included.
        km_per_year: of their cars, taken as even over the year, shape (n,).
        km_ahead: in its place, what each car covers from today to the end of each month, shape (n, months), never
            falling.

    Returns:
        Shape (draws, n, months).

    Raises:
        InputError: a clock or yearly distance is negative or not finite.
    """
    now = [
        _column(name, value) for name, value in (("km", km), ("years", years), ("km_per_year", km_per_year))
    ]
    ran, aged, rate = np.broadcast_arrays(*now)
    ahead = np.array([(end - today).days / DAYS_PER_YEAR for end in month_ends(today, months)])
    start, end = {}, {}
    if "distance" in life.clocks:
        driven = rate[:, None] * ahead if km_ahead is None else _driven(km_ahead, len(ran), months)
        start["km"], end["km"] = ran[:, None], ran[:, None] + driven
    if "age" in life.clocks:
        start["years"], end["years"] = aged[:, None], aged[:, None] + ahead
    gained = life.cumulative_hazard_draws(**end) - life.cumulative_hazard_draws(**start)
    return np.asarray(-np.expm1(-np.maximum(gained, 0.0)))


def _driven(km_ahead: ArrayLike, parts: int, months: int) -> Array:
    driven = np.asarray(km_ahead, dtype=np.float64)
    if driven.shape != (parts, months) or not np.all(np.isfinite(driven)) or np.any(driven < 0):
        raise InputError(
            "km_ahead", f"distances of 0 or more for {parts} parts and {months} months", km_ahead
        )
    return driven


def _column(field: str, value: ArrayLike) -> Array:
    column = np.atleast_1d(np.asarray(value, dtype=np.float64))
    if column.ndim != 1 or not np.all(np.isfinite(column)) or np.any(column < 0):
        raise InputError(field, "finite amounts of 0 or more, one for each part", value)
    return column
