"""What one car has earned: the multiplier that its own parts say it puts on every hazard, and the life of a part on that car.

With exact failures and parts still good Z is gamma with shape k + d and rate k + ΣΛ(end), Λ counted from new. Parts that failed between
two looks multiply that by 1 - exp(-Z·D) each, on a grid of Z. Both are averaged over the draws of the life.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError, SpellError
from planner.history.spells import Spells
from planner.life.checks import numbers, seed_number
from planner.life.interval_rows import decay_of, log_failed, log_gap
from planner.life.model import ClockLife, Life
from planner.life.row_parts import hazard_values, logs_of
from planner.life.terms import IntervalRows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import FloatArray

_GRID = 1000
_FAR = math.log(1e-7)


@dataclass(frozen=True)
class Multiplier:
    """How much faster a car eats parts of a kind than the common car.

    Attributes:
        mean: posterior mean of Z.
        low: its 10 % point.
        high: its 90 % point.
        failures: how many the car had.
        expected: how many the common car would have had: ΣΛ of its parts from new to when each failed or was last seen good, at Z = 1.
    """

    mean: float
    low: float
    high: float
    failures: float
    expected: float

    @property
    def words(self) -> str:
        """As "x1.6, from 3 failures where 1.4 were expected"."""
        failures = f"{self.failures:.3g} failure" + ("" if self.failures == 1 else "s")
        return f"×{self.mean:.1f}, from {failures} where {self.expected:.1f} were expected"

    @property
    def range_words(self) -> str:
        """As "x0.8 to x2.6 in four cases of five"."""
        return f"×{self.low:.1f} to ×{self.high:.1f} in four cases of five"


@dataclass(frozen=True, eq=False)
class _Posterior:
    """Z of one car for each draw of the life: gamma with these counts and rates, tilted by the gaps of its interval rows.

    Attributes:
        count: k + d, (draws,).
        rate: k + ΣwΛ(last good), (draws,).
        log_gaps: ln D of each interval row, (draws, rows).
        gap_weight: their weights, (rows,).
    """

    count: FloatArray
    rate: FloatArray
    log_gaps: FloatArray
    gap_weight: FloatArray

    def log_z(self) -> FloatArray:
        """Values of ln Z, evenly spaced, that hold the law of every draw, (grid,)."""
        from scipy.special import gammaln  # noqa: PLC0415 - loaded only when needed

        least, most = float(self.count.min()), float(self.count.max() + self.gap_weight.sum())
        low = min((_FAR + float(gammaln(least + 1))) / least, math.log(least))
        high = math.log(most + 7 * math.sqrt(most) + 16)
        ends = low - math.log(self.rate.max()), high - math.log(self.rate.min())
        return np.linspace(*ends, _GRID)

    def below(self, log_z: FloatArray) -> FloatArray:
        """Chance of Z below each value, for every draw: (grid, draws)."""
        from scipy.special import gammainc  # noqa: PLC0415 - loaded only when needed

        if not self.gap_weight.size:
            found: FloatArray = gammainc(self.count, np.exp(log_z)[:, None] * self.rate)
            return found
        mass = self._mass(log_z)
        return np.cumsum(mass, axis=0) - 0.5 * mass

    def mean(self) -> float:
        """Posterior mean of Z, averaged over the draws."""
        if not self.gap_weight.size:
            return float((self.count / self.rate).mean())
        log_z = self.log_z()
        return float((np.exp(log_z) @ self._mass(log_z)).mean())

    def _mass(self, log_z: FloatArray) -> FloatArray:
        logs = self.count * log_z[:, None] - self.rate * np.exp(log_z)[:, None]
        for gap, weight in zip(self.log_gaps.T, self.gap_weight, strict=True):
            logs += weight * log_failed(log_z[:, None] + gap)
        mass: FloatArray = np.exp(logs - logs.max(axis=0))
        mass /= mass.sum(axis=0)
        return mass


def car_multiplier(spells: Spells, life: Life, shape: float | ArrayLike) -> Multiplier:
    """The multiplier of one car, averaged over the life's draws.

    Args:
        spells: the car's parts of a kind.
        life: at Z = 1, from :func:`planner.life.cars.frailty.fit_with_cars`.
        shape: k, one for all or one for each draw of the life.

    Raises:
        SpellError: no spells.
        InputError: a shape not above 0, no life, or one on other clocks.
    """
    posterior = _posterior(spells, life, _shapes(shape, life))
    log_z = posterior.log_z()
    below = posterior.below(log_z).mean(axis=1)
    low, high = (float(np.exp(np.interp(p, below, log_z))) for p in (0.1, 0.9))
    failures = float(spells.weight[~spells.censored].sum())
    return Multiplier(posterior.mean(), low, high, failures, _expected(spells, life.parameters))


def life_on_car(spells: Spells | None, life: Life, shape: float | ArrayLike, *, seed: int = 0) -> Life:
    """The life of a part on one car: every draw of the life at Z = 1 with a draw of the car's own Z.

    A hazard times Z is the same Weibull law with its scale times Z^(-1/shape), so the answer is a life like any other. Its estimate
    takes the posterior mean of Z.

    Args:
        spells: the car's parts of a kind; None for a car of which nothing is known.
        life: at Z = 1.
        shape: k, one for all or one for each draw of the life.
        seed: of the random numbers.

    Raises:
        InputError: as :func:`car_multiplier`.
    """
    shapes, random = _shapes(shape, life), np.random.default_rng(seed_number(seed))
    if spells is None:
        log_z, middle = np.log(random.gamma(shapes, 1 / shapes)), 0.0
    else:
        posterior = _posterior(spells, life, shapes)
        grid = posterior.log_z()
        below = posterior.below(grid)
        chance = random.random(len(shapes))
        log_z = np.array([np.interp(c, own, grid) for c, own in zip(chance, below.T, strict=True)])
        middle = math.log(posterior.mean())
    values = life.draws.copy()
    values[:, 1::2] -= log_z[:, None] / np.exp(values[:, 0::2])
    laws = (
        None if law is None else ClockLife(law.shape, law.scale * math.exp(-middle / law.shape))
        for law in (life.distance, life.age)
    )
    distance, age = laws
    spread = np.atleast_2d(np.cov(values.T)) if len(values) > 1 else np.zeros_like(life.covariance)
    return replace(
        life, distance=distance, age=age, covariance=spread, draws=values, derived=True, terms=None
    )


def _posterior(spells: Spells, life: Life, shapes: FloatArray) -> _Posterior:
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells of one car", spells)
    if life.clocks != spells.clocks:
        raise InputError("life", f"clocks {' and '.join(spells.clocks)}, as the spells have", life.clocks)
    logs = logs_of(spells)
    spent = hazard_values(logs.lower, life.draws) @ spells.weight
    return _Posterior(
        shapes + float(spells.weight[spells.exact].sum()),
        shapes + spent,
        _log_gaps(spells, life.draws),
        spells.weight[spells.interval],
    )


def _log_gaps(spells: Spells, thetas: FloatArray) -> FloatArray:
    logs, between = logs_of(spells), spells.interval
    rows = IntervalRows(logs.lower[between], logs.upper[between], spells.weight[between])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return log_gap(rows, thetas)


def _expected(spells: Spells, theta: FloatArray) -> float:
    """ΣwΛ at Z = 1, a failure between two looks taken at its mean place among them."""
    spent = float(hazard_values(logs_of(spells).lower, theta[None, :])[0] @ spells.weight)
    gaps = np.exp(_log_gaps(spells, theta[None, :])[0])
    return spent + float((1 - decay_of(gaps)) @ spells.weight[spells.interval])


def _shapes(shape: float | ArrayLike, life: Life) -> FloatArray:
    if not isinstance(life, Life):
        raise InputError("life", "a Life", life)
    shapes = numbers("shape", shape, "finite numbers above 0")
    if shapes.ndim > 1 or (shapes.ndim == 1 and len(shapes) != len(life.draws)):
        raise InputError("shape", "one number, or one for each draw of the life", shape)
    if not (np.isfinite(shapes) & (shapes > 0)).all():
        raise InputError("shape", "finite numbers above 0", shape)
    return np.broadcast_to(shapes, (len(life.draws),))
