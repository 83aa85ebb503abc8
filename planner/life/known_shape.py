"""Lives whose Weibull shape is known from elsewhere: lower bounds, sound parts counted as proof, and a gamma law of the rate.

With the shape known, scale^-shape is the rate of a Poisson process in the transformed clock Σ t^shape. So bounds are chi-square
quantiles, and a gamma law stays a gamma law when parts are added to it. Parts that came under observation late count from there.

References:
    [1] Abernethy et al. 1983, AFWAL-TR-83-2079; Nelson 1985, J. Quality Technology 17:140-146; IEC 61649 (known shape).
    [2] Soland 1969, IEEE Trans. Reliability R-18:181-184 (gamma law). NIST/SEMATECH e-Handbook 8.2.5, 8.4.6.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from planner.errors import FitNotConverged, InputError, PriorError, SpellError
from planner.history.spells import Spells


def scale_lower_bound(spells: Spells, shape: float, level: float = 0.95) -> float:
    """One-sided lower bound of the scale, in the clock's unit: (2·Σ(end^shape - entry^shape)/chi²(level; 2·failures + 2))^(1/shape).

    It holds where the watch ended at readings set beforehand, and needs no failure [1].

    Args:
        spells: on one clock; exact failures and parts still good, whole-number weights counting alike parts.
        shape: known from elsewhere, above 0.
        level: of the bound.

    Raises:
        SpellError: two clocks, interval rows, or no time under observation.
        InputError: a shape or a level that makes no sense.
    """
    failures, exposure = _counts(spells, _above_zero("shape", shape))
    chi_square = 2 * _gamma_quantile(_share("level", level), failures + 1)
    return float((2 * exposure / chi_square) ** (1 / shape))


def life_of(scale: float, shape: float, fraction: float) -> float:
    """Reading by which a fraction has failed: B10 at 0.1.

    Raises:
        InputError: naming the argument.
    """
    good = -math.log1p(-_share("fraction", fraction))
    return float(_above_zero("scale", scale) * good ** (1 / _above_zero("shape", shape)))


def sound_parts_needed(reliability: float, level: float) -> int:
    """How many parts must all stay good through a span to show that reliability over it: ln(1 - level)/ln(reliability), rounded up.

    Raises:
        InputError: naming the argument.
    """
    return math.ceil(math.log1p(-_share("level", level)) / math.log(_share("reliability", reliability)))


@dataclass(frozen=True)
class RateLaw:
    """Gamma law of rate = scale^-shape: what is believed of a life whose shape is known [2].

    Attributes:
        count: the gamma law's shape: failures' worth of evidence.
        exposure: its rate: Σ t^shape worth of evidence, in the clock's unit to the power of the shape.
        shape: the Weibull shape; 1 for a constant hazard, where the scale is the mean time between failures.

    Raises:
        PriorError: a number that is not finite and above 0.
    """

    count: float
    exposure: float
    shape: float = 1.0

    def __post_init__(self) -> None:
        for name in ("count", "exposure", "shape"):
            if not 0 < getattr(self, name) < math.inf:
                raise PriorError(name, "a finite number above 0", getattr(self, name))

    @classmethod
    def through(cls, even: float, sure: float, *, level: float = 0.95) -> RateLaw:
        """The law of a constant rate whose mean time between failures is above ``even`` with chance one half, above ``sure`` with ``level``.

        Raises:
            PriorError: naming the argument.
            FitNotConverged: no law found through the two.
        """
        if not 0 < sure < even < math.inf:
            raise PriorError("sure", f"above 0 and below {even:g}", sure)
        if not 0.5 < level < 1:
            raise PriorError("level", "between 0.5 and 1", level)
        count = _count_with_ratio(even / sure, level)
        return cls(count, even * _gamma_quantile(0.5, count))

    def given(self, spells: Spells) -> RateLaw:
        """The law after these spells; requirements and errors as :func:`scale_lower_bound`."""
        failures, exposure = _counts(spells, self.shape)
        return RateLaw(self.count + failures, self.exposure + exposure, self.shape)

    def scale_above(self, chance: float) -> float:
        """The scale that the true one exceeds with this chance: the median at 0.5.

        Raises:
            InputError: a chance not between 0 and 1.
        """
        rate = _gamma_quantile(_share("chance", chance), self.count) / self.exposure
        return float(rate ** (-1 / self.shape))

    def survival(self, t: float) -> float:
        """Chance that a new part is still good at t, averaged over the law.

        Raises:
            InputError: a t below 0.
        """
        if not 0 <= t < math.inf:
            raise InputError("t", "a finite number of at least 0", t)
        return math.exp(-self.count * math.log1p(t**self.shape / self.exposure))

    def life_at(self, fraction: float) -> float:
        """Reading by which a fraction of new parts has failed, averaged over the law.

        Raises:
            InputError: a fraction not between 0 and 1.
        """
        stretch = math.expm1(-math.log1p(-_share("fraction", fraction)) / self.count)
        return float((self.exposure * stretch) ** (1 / self.shape))


def _counts(spells: Spells, shape: float) -> tuple[float, float]:
    if not isinstance(spells, Spells) or len(spells.clocks) != 1 or spells.interval.any():
        raise SpellError("spells", "one clock, exact failures and parts still good", spells)
    bounds = spells.bounds[0]
    exposure = float(spells.weight @ (bounds.lower**shape - bounds.entry**shape))
    if exposure <= 0:
        raise SpellError("spells", "some time under observation", exposure)
    return float(spells.weight[spells.exact].sum()), exposure


def _count_with_ratio(ratio: float, level: float) -> float:
    """The gamma count whose quantiles at level and one half stand in this ratio; the ratio falls as the count grows."""
    from scipy.optimize import brentq  # noqa: PLC0415 - loaded only when needed

    def excess(log_count: float) -> float:
        count = math.exp(log_count)
        return math.log(_gamma_quantile(level, count) / _gamma_quantile(0.5, count) / ratio)

    try:
        return math.exp(float(brentq(excess, math.log(0.02), math.log(1e8), xtol=1e-14, rtol=1e-14)))
    except ValueError as error:
        raise FitNotConverged(f"no gamma law has quantiles in the ratio {ratio:g}") from error


def _gamma_quantile(chance: float, count: float) -> float:
    from scipy.special import gammaincinv  # noqa: PLC0415 - loaded only when needed

    return float(gammaincinv(count, chance))


def _share(name: str, value: float) -> float:
    if not 0 < value < 1:
        raise InputError(name, "a number between 0 and 1", value)
    return value


def _above_zero(name: str, value: float) -> float:
    if not 0 < value < math.inf:
        raise InputError(name, "a finite number above 0", value)
    return value
