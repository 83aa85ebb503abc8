"""A life fitted over temperatures: Weibull or lognormal, its ln scale straight in 1/T (Arrhenius).

References:
    [1] Nelson 1990, Accelerated Testing, chapters 2 and 5 (maximum likelihood with parts still good).
    [2] Hahn & Nelson 1974, IEEE Trans. Electrical Insulation 9; IEC 60216-1 (temperature index, halving interval).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import FitNotConverged, InputError, TooFewFailures
from planner.life.likelihood import Derivatives
from planner.life.maximise import maximise
from planner.life.modifiers.heat import BOLTZMANN_EV, ZERO_CELSIUS, kelvin_of

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import BoolArray, FloatArray

Law = Literal["lognormal", "Weibull"]

_ACCEPTED_GRADIENT = 1e-6


@dataclass(frozen=True, eq=False)
class ArrheniusLife:
    """Life whose ln scale (lognormal: ln median) is intercept + slope·1000/T, T in kelvin.

    Attributes:
        intercept: of ln scale.
        slope: of ln scale over 1000/T.
        spread: standard deviation of ln life, Weibull: 1/shape; the same at all temperatures.
        law: "lognormal" or "Weibull".
        log_likelihood: at the estimate, densities per unit of time.
        covariance: of (intercept, slope, ln spread), (3, 3).
        zero: 0 °C in kelvin as it was fitted.
    """

    intercept: float
    slope: float
    spread: float
    law: Law
    log_likelihood: float
    covariance: FloatArray
    zero: float = ZERO_CELSIUS

    @property
    def energy_ev(self) -> float:
        """Activation energy, eV."""
        return 1000 * self.slope * BOLTZMANN_EV

    def life_at(self, fraction: float, celsius: float) -> float:
        """Time by which a fraction has failed at a temperature.

        Raises:
            InputError: a fraction not between 0 and 1, or a temperature not above absolute zero.
        """
        return math.exp(self._log_life(fraction, celsius)[0])

    def log_error(self, fraction: float, celsius: float) -> float:
        """Standard error of the logarithm of :meth:`life_at`."""
        slopes = self._log_life(fraction, celsius)[1]
        return math.sqrt(float(slopes @ self.covariance @ slopes))

    def temperature_at(self, life: float, fraction: float = 0.5) -> float:
        """Temperature (°C) at which a fraction fails by ``life``; at 20,000 h and one half IEC 60216's temperature index.

        Raises:
            InputError: a life not above 0, or one that no temperature gives.
        """
        if not 0 < life < math.inf:
            raise InputError("life", "a finite time above 0", life)
        middle, (_, x, _) = self._log_life(fraction, 0.0)
        at_infinity = middle - self.slope * float(x)
        kelvin = 1000 * self.slope / (math.log(life) - at_infinity)
        if kelvin <= 0:
            raise InputError("life", "a life that some temperature gives", life)
        return kelvin - self.zero

    def limits(self, fraction: float, celsius: float, level: float = 0.9) -> tuple[float, float]:
        """Limits of :meth:`life_at`, normal in the logarithm.

        Raises:
            InputError: a level not between 0 and 1, or as :meth:`life_at`.
        """
        if not 0 < level < 1:
            raise InputError("level", "a number between 0 and 1", level)
        reach = NormalDist().inv_cdf(0.5 + level / 2) * self.log_error(fraction, celsius)
        middle = self._log_life(fraction, celsius)[0]
        return math.exp(middle - reach), math.exp(middle + reach)

    def _log_life(self, fraction: float, celsius: float) -> tuple[float, FloatArray]:
        if not 0 < fraction < 1:
            raise InputError("fraction", "a number between 0 and 1", fraction)
        x = 1000 / (kelvin_of("celsius", celsius) - ZERO_CELSIUS + self.zero)
        tail = NormalDist().inv_cdf(fraction) if self.law == "lognormal" else math.log(-math.log1p(-fraction))
        w = tail * self.spread
        return self.intercept + self.slope * x + w, np.array([1.0, x, w])


def fit_arrhenius(
    time: ArrayLike,
    failed: ArrayLike,
    celsius: ArrayLike,
    *,
    law: Law = "lognormal",
    zero: float = ZERO_CELSIUS,
) -> ArrheniusLife:
    """Fit lives over temperatures by maximum likelihood; exact failures and parts still good only [1].

    Args:
        time: failed at, or last seen good, above 0, (n,).
        failed: whether it failed, (n,).
        celsius: temperature of each, °C, (n,).
        law: "lognormal", as is usual for insulation, or "Weibull".
        zero: 0 °C in kelvin; older tables used 273.2.

    Raises:
        InputError: columns that make no sense.
        TooFewFailures: failures at fewer than two temperatures, or none that differ.
        FitNotConverged: the optimiser stopped short.
    """
    if law not in ("lognormal", "Weibull"):
        raise InputError("law", '"lognormal" or "Weibull"', law)
    log_t, seen, kelvin = _columns(time, failed, celsius, zero)
    if len(np.unique(kelvin[seen])) < 2:
        raise TooFewFailures("failures at fewer than two temperatures say nothing of the slope between them")
    x = 1000 / kelvin
    middle, level = float(x.mean()), float(log_t[seen].mean())
    design = np.stack([np.ones(len(x)), x - middle])
    start = np.append(np.linalg.lstsq(design[:, seen].T, log_t[seen] - level, rcond=None)[0], math.log(0.7))
    found = maximise(lambda theta: _derivatives(theta, design, log_t - level, seen, law), start)
    if found is None or found.scaled_gradient(float(seen.sum())) >= _ACCEPTED_GRADIENT or not found.peaked:
        raise FitNotConverged("the likelihood over temperatures has no peak that the optimiser could reach")
    back = np.array([[1.0, -middle, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    intercept, slope, log_spread = back @ found.theta + np.array([level, 0.0, 0.0])
    return ArrheniusLife(
        float(intercept),
        float(slope),
        math.exp(log_spread),
        law,
        found.value - float(log_t[seen].sum()),
        back @ np.linalg.inv(found.information) @ back.T,
        zero,
    )


def _derivatives(
    theta: FloatArray, design: FloatArray, log_t: FloatArray, seen: BoolArray, law: Law
) -> Derivatives:
    """Σ (log density of z - ln spread) over failures + Σ log survival of z, z = (ln t - location)/spread."""
    out = Derivatives(3)
    with np.errstate(over="ignore", invalid="ignore"):
        spread = np.exp(theta[2])
        z = (log_t - theta[:2] @ design) / spread
        value, pull, curve = (_normal if law == "lognormal" else _gumbel)(z, seen)
        dz = np.vstack([-design / spread, -z])
        out.value = float(value.sum() - seen.sum() * theta[2])
        out.gradient = dz @ pull - np.array([0.0, 0.0, float(seen.sum())])
        out.hessian = (dz * curve) @ dz.T
        out.hessian[:2, 2] += (design / spread) @ pull
        out.hessian[2, :2] = out.hessian[:2, 2]
        out.hessian[2, 2] += float(z @ pull)
    return out


def _gumbel(z: FloatArray, seen: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Log contribution of each row with its first two derivatives by z: Weibull lives."""
    hazard = np.exp(z)
    return np.where(seen, z, 0.0) - hazard, seen - hazard, -hazard


def _normal(z: FloatArray, seen: BoolArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The same for lognormal lives."""
    from scipy.special import log_ndtr  # noqa: PLC0415 - loaded only when needed

    log_density = -0.5 * z * z - 0.5 * math.log(2 * math.pi)
    log_good = log_ndtr(-z)
    hazard = np.exp(log_density - log_good)
    return (
        np.where(seen, log_density, log_good),
        np.where(seen, -z, -hazard),
        np.where(seen, -1.0, -hazard * (hazard - z)),
    )


def _columns(
    time: ArrayLike, failed: ArrayLike, celsius: ArrayLike, zero: float
) -> tuple[FloatArray, BoolArray, FloatArray]:
    times, seen = np.asarray(time, dtype=np.float64), np.asarray(failed).astype(bool)
    kelvin = np.asarray(celsius, dtype=np.float64) + zero
    if times.ndim != 1 or not (times.shape == seen.shape == kelvin.shape):
        raise InputError("time, failed, celsius", "columns of one length", (times.shape, seen.shape))
    if not (np.isfinite(times) & (times > 0)).all():
        raise InputError("time", "finite numbers above 0", time)
    if not (np.isfinite(kelvin) & (kelvin > 0)).all():
        raise InputError("celsius", "temperatures above absolute zero", celsius)
    return np.log(times), seen, kelvin
