"""Renewals of one position over and over: mean cumulative function, trend tests and the power law.

A part kind that is renewed again and again on the same cars gives counts, not single lives. The mean cumulative function says how
many renewals a car has had by a reading; the trend tests say whether they come faster or slower than they did.

References:
    [1] Nelson 1988, J. Quality Technology 20:24-35; Lawless & Nadeau 1995, Technometrics 37:158-168 (mean and variance).
    [2] Crow 1975, AMSAA TR-138; MIL-HDBK-189 (power law); Duane 1964 (slope of the cumulative mean).
    [3] NIST/SEMATECH e-Handbook 8.2.3.4 (Laplace, military handbook and reverse arrangement tests), 8.4.5.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import SpellError
from planner.life.checks import number, numbers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import FloatArray

_ROUNDING = 1e-20

Spread = Literal["Lawless-Nadeau", "independent increments"]


@dataclass(frozen=True)
class Watched:
    """One car's renewals of a kind while it was watched.

    Attributes:
        renewals: clock readings (km or years) at which the part was renewed, each in (start, end].
        end: reading up to which the car was watched.
        start: reading from which it was watched.

    Raises:
        SpellError: naming the field.
    """

    renewals: tuple[float, ...]
    end: float
    start: float = 0.0

    def __post_init__(self) -> None:
        if number("start", self.start, "a finite number of at least 0", SpellError) < 0:
            raise SpellError("start", "a finite number of at least 0", self.start)
        if number("end", self.end, "a finite number above the start", SpellError) <= self.start:
            raise SpellError("end", "a finite number above the start", self.end)
        for reading in self.renewals:
            number("renewals", reading, "finite readings", SpellError)
            if not self.start < reading <= self.end:
                raise SpellError("renewals", f"readings in ({self.start:g}, {self.end:g}]", reading)


@dataclass(frozen=True, eq=False)
class MeanCumulative:
    """Mean number of renewals per car up to each reading.

    Attributes:
        times: readings with a renewal, rising, (n,).
        mean: renewals per car up to and with that reading, (n,).
        variance: of the mean, (n,); nan from where fewer than two cars are watched, and where the cars do not differ at all:
            neither shows how far they spread, and a variance of 0 would claim to know the mean.
        lower: pointwise limits, symmetric in the logarithm, (n,); nan where the variance is.
        upper: likewise.
        spread: which variance: "Lawless-Nadeau" holds whatever the cars' own differences; "independent increments" takes each
            renewal as a draw of its own, and is too small where some cars eat parts.
        level: of the limits.
    """

    times: FloatArray
    mean: FloatArray
    variance: FloatArray
    lower: FloatArray
    upper: FloatArray
    spread: Spread
    level: float

    @property
    def words(self) -> str:
        """What the limits rest on, or from where there are none."""
        unknown = np.isnan(self.variance)
        if not unknown.any():
            return f"limits of {self.level:.0%} from how the cars differ"
        return (
            f"no limits at {int(unknown.sum())} of {len(unknown)} readings, the first at {self.times[unknown][0]:g}: "
            "fewer than two cars, or cars that do not differ, show no spread"
        )

    def at(self, t: ArrayLike) -> FloatArray:
        """Mean number of renewals per car by t; 0 before the first."""
        steps = np.searchsorted(self.times, np.asarray(t, dtype=np.float64), side="right")
        return np.concatenate([[0.0], self.mean])[steps]


def mean_cumulative(
    cars: Sequence[Watched], *, spread: Spread = "Lawless-Nadeau", level: float = 0.95
) -> MeanCumulative:
    """Estimate the mean cumulative function [1].

    Args:
        cars: each car's renewals; a car whose watch ends at a reading was still watched there.
        spread: which variance.
        level: of the limits.

    Raises:
        SpellError: no cars, no renewals, or a spread or a level that does not exist.
    """
    if spread not in ("Lawless-Nadeau", "independent increments"):
        raise SpellError("spread", '"Lawless-Nadeau" or "independent increments"', spread)
    if not 0 < level < 1:
        raise SpellError("level", "a number between 0 and 1", level)
    times = np.unique(np.array([t for car in cars for t in car.renewals], dtype=np.float64))
    if not len(times):
        raise SpellError("cars", "at least one renewal", cars)
    counts = np.array([[car.renewals.count(t) for t in times] for car in cars], dtype=np.float64)
    watched = np.array([(car.start < times) & (times <= car.end) for car in cars], dtype=np.float64)
    at_risk, fell = watched.sum(axis=0), counts.sum(axis=0)
    mean = np.cumsum(fell / at_risk)
    if spread == "Lawless-Nadeau":
        own = watched / at_risk * (counts - fell / at_risk)
        variance = (np.cumsum(own, axis=1) ** 2).sum(axis=0)
    else:
        variance = np.cumsum(fell * (at_risk - 1) / at_risk**3)
    told = np.minimum.accumulate(at_risk >= 2) & (variance > _ROUNDING * mean**2)
    variance = np.where(told, variance, np.nan)
    reach = np.exp(NormalDist().inv_cdf(0.5 + level / 2) * np.sqrt(variance) / mean)
    return MeanCumulative(times, mean, variance, mean / reach, mean * reach, spread, level)


@dataclass(frozen=True)
class Trend:
    """Whether renewals of one position come faster (worse) or slower with time [3].

    Attributes:
        laplace: Laplace's z; above 0: faster.
        military_handbook: 2 Σ ln(T/t), chi-square with `degrees` where there is no trend; small: faster.
        degrees: degrees of freedom of that chi-square.
        reversals: pairs of gaps of which the later is the longer; many: slower.
    """

    laplace: float
    military_handbook: float
    degrees: int
    reversals: int

    @property
    def chance(self) -> float:
        """Chance of a Laplace z as far from 0 as this where there is no trend (two-sided, normal)."""
        return 2 * NormalDist().cdf(-abs(self.laplace))


def trend(renewals: ArrayLike, end: float | None = None) -> Trend:
    """Test one position's renewals for a trend.

    Args:
        renewals: readings of the renewals, rising, counted from when the watch began.
        end: reading at which the watch ended; None where it ended with the last renewal, which then carries no news.

    Raises:
        SpellError: readings that do not rise from above 0, too few, or an end before the last.
    """
    times, total, used = _watch(renewals, end, least=2)
    n = len(used)
    z = (float(used.sum()) / n - total / 2) / (total * math.sqrt(1 / (12 * n)))
    gaps = np.diff(times, prepend=0.0)
    pairs = np.triu(gaps[:, None] < gaps[None, :], 1)
    return Trend(z, 2 * float(np.log(total / used).sum()), 2 * n, int(pairs.sum()))


@dataclass(frozen=True)
class PowerLaw:
    """Renewals as a Poisson process with mean number rate·t^growth by reading t [2].

    Attributes:
        growth: exponent, by maximum likelihood; above 1: renewals come faster and faster.
        rate: the factor, by maximum likelihood.
        growth_unbiased: the exponent corrected for its bias in few renewals.
        end: reading at which the watch ended.
        renewals: how many there were.
    """

    growth: float
    rate: float
    growth_unbiased: float
    end: float
    renewals: int

    @property
    def mean_between(self) -> float:
        """Mean reading between renewals over the whole watch."""
        return self.end / self.renewals

    @property
    def mean_between_now(self) -> float:
        """Mean reading between renewals at the rate at the end of the watch."""
        return self.mean_between / self.growth

    @property
    def mean_between_now_unbiased(self) -> float:
        """The same with the corrected exponent."""
        return self.mean_between / self.growth_unbiased

    def reading_at_mean(self, mean: float) -> float:
        """Reading at which the mean between renewals, from the start of the watch, is the given one.

        Raises:
            SpellError: a mean that is not above 0, or an exponent of 1, where the mean never changes.
        """
        if not 0 < mean < math.inf:
            raise SpellError("mean", "a finite number above 0", mean)
        if self.growth == 1:
            raise SpellError("mean", "nothing: at an exponent of 1 the mean never changes", mean)
        return float((mean * self.rate) ** (1 / (1 - self.growth)))


def power_law(renewals: ArrayLike, end: float | None = None) -> PowerLaw:
    """Fit the power law to one position's renewals; arguments and errors as :func:`trend`."""
    times, total, used = _watch(renewals, end, least=3)
    n = len(times)
    logs = float(np.log(total / used).sum())
    unbiased = (n - 1 if len(used) == n else n - 2) / logs
    return PowerLaw(n / logs, n / total ** (n / logs), unbiased, total, n)


def duane_slope(renewals: ArrayLike) -> float:
    """Slope of ln(reading/count) over ln reading, by least squares (Duane): above 0, renewals come slower and slower.

    Raises:
        SpellError: fewer than two readings, or readings that do not rise from above 0.
    """
    times, _, _ = _watch(renewals, None, least=2)
    x, y = np.log(times), np.log(times / np.arange(1, len(times) + 1))
    off = x - x.mean()
    return float(off @ y / (off @ off))


def _watch(renewals: ArrayLike, end: float | None, *, least: int) -> tuple[FloatArray, float, FloatArray]:
    """The readings, the end of the watch, and the readings that carry news of a trend."""
    times = numbers("renewals", renewals, "finite readings above 0 that do not fall", SpellError)
    if times.ndim != 1 or len(times) < least:
        raise SpellError("renewals", f"at least {least} readings", renewals)
    if not np.isfinite(times).all() or times[0] <= 0 or (np.diff(times) < 0).any():
        raise SpellError("renewals", "finite readings above 0 that do not fall", renewals)
    if end is None:
        used = times[:-1]
        if used[0] == times[-1]:
            raise SpellError("renewals", "readings that differ", renewals)
        return times, float(times[-1]), used
    if not (math.isfinite(end) and end >= times[-1] and end > times[0]):
        raise SpellError("end", f"a finite reading of at least {times[-1]:g}", end)
    return times, float(end), times
