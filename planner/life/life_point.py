"""The point by which a fraction of new parts has failed, and its limits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import InputError
from planner.life.checks import number, positive, share

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.model import Life

IntervalMethod = Literal["draws", "likelihood ratio"]


@dataclass(frozen=True)
class LifePoint:
    """A point on a part's path from new.

    Attributes:
        km: distance, None where it is not known.
        years: age, likewise.
    """

    km: float | None
    years: float | None
    _life: Life | None = field(default=None, repr=False, compare=False)
    _fraction: float = field(default=math.nan, repr=False, compare=False)
    _rate: float | None = field(default=None, repr=False, compare=False)

    def with_interval(
        self, level: float = 0.90, method: IntervalMethod = "draws"
    ) -> tuple[LifePoint, LifePoint]:
        """Limits of this point.

        Args:
            level: between 0 and 1; equal tails.
            method: "draws" (quantiles over the life's draws) or "likelihood ratio" (profile likelihood against
                chi-square with one degree of freedom; with a prior, of likelihood times prior).

        Raises:
            InputError: level or method make no sense, or the life no longer holds its data and the method
                needs them.
        """
        if self._life is None:
            raise InputError("with_interval", "a point that life_at returned", self)
        check_level(level)
        if method == "draws":
            own = _own_clock(self._life, self._life.draws, self._fraction, self._rate)
            low, high = np.quantile(own, [(1 - level) / 2, (1 + level) / 2], method="median_unbiased")
        elif method == "likelihood ratio":
            from planner.life.profile import life_limits  # noqa: PLC0415 - loads scipy

            low, high = life_limits(self._life, self._fraction, self._rate, level)
        else:
            raise InputError("method", "'draws' or 'likelihood ratio'", method)
        return self._moved_to(float(low)), self._moved_to(float(high))

    def _moved_to(self, own: float) -> LifePoint:
        return LifePoint(*_on_path(self._life, own, self._rate))


def point_at(life: Life, fraction: float, km_per_year: float | None) -> LifePoint:
    """See :meth:`planner.life.model.Life.life_at`."""
    fraction = share("fraction", fraction, "a number between 0 and 1")
    rate = _checked_rate(life, km_per_year)
    own = float(_own_clock(life, life.parameters[None, :], fraction, rate)[0])
    return LifePoint(*_on_path(life, own, rate), life, fraction, rate)


def check_level(level: float) -> None:
    """Refuse a confidence level outside 0 to 1."""
    share("level", level, "a number between 0 and 1")


def log_years_at(parameters: FloatArray, log_hazard: float, km_per_year: float) -> FloatArray:
    """Log of the age at which a straight path from new reaches a cumulative hazard, two clocks.

    Newton's method on ln(cumulative hazard), which is convex and rising in ln(age), from a start beyond the root.

    Args:
        parameters: (n, 4) of ln shape and ln scale, distance first.
        log_hazard: natural log of the hazard to reach.
        km_per_year: slope of the path.
    """
    shape = np.exp(parameters[:, (0, 2)])
    log_rate = math.log(km_per_year) if km_per_year > 0 else -math.inf
    centre = np.stack([parameters[:, 1] - log_rate, parameters[:, 3]], axis=1)
    log_age: FloatArray = np.min(centre + log_hazard / shape, axis=1)
    for _ in range(60):
        each = shape * (log_age[:, None] - centre)
        total = np.logaddexp(each[:, 0], each[:, 1])
        share = np.exp(each - total[:, None])
        step = (total - log_hazard) / (share * shape).sum(axis=1)
        log_age = log_age - step
        if np.all(np.abs(step) <= 1e-14 * (1 + np.abs(log_age))):
            break
    return log_age


def _own_clock(life: Life, parameters: FloatArray, fraction: float, rate: float | None) -> FloatArray:
    log_hazard = math.log(-math.log1p(-fraction))
    if len(life.clocks) == 2 and rate is not None:
        log_own = log_years_at(parameters, log_hazard, rate)
    else:
        log_own = parameters[:, 1] + log_hazard / np.exp(parameters[:, 0])
    own: FloatArray = np.exp(log_own)
    return own


def _on_path(life: Life | None, own: float, rate: float | None) -> tuple[float | None, float | None]:
    """Km and years of a point given on age, or on distance where that is the only clock."""
    if life is not None and life.age is None:
        return own, (own / rate if rate else None)
    return (None if rate is None else own * rate), own


def _checked_rate(life: Life, km_per_year: float | None) -> float | None:
    if km_per_year is None:
        if len(life.clocks) == 2:
            raise InputError("km_per_year", "a rate: with two clocks the point depends on it", None)
        return None
    if life.age is None:
        return positive("km_per_year", km_per_year)
    rate = number("km_per_year", km_per_year, "a finite number of at least 0")
    if rate < 0:
        raise InputError("km_per_year", "a finite number of at least 0", km_per_year)
    return rate
