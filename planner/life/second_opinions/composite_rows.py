"""The likelihood of spells on a composite clock z = u/ηu + a/ηa with Λ = z^shape, row by row, with derivatives.

Parameters are (ln shape, ln ηu, ln ηa). On a car doing r km a year z runs at r/ηu + 1/ηa, which enters the density of an exact failure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.likelihood import Derivatives
from planner.life.row_parts import Parts, RowLogs, log_failed_parts, logs_of, masked

if TYPE_CHECKING:
    from planner.history.spells import FloatArray, Spells


@dataclass(frozen=True, eq=False)
class CompositeRows:
    """Spells on two clocks.

    Attributes:
        logs: of their clocks and rates.
        weight: of each row, (n,).
        failures: sum of the weights of failed rows.
        middle: mean logs of where rows ended on each clock, (2,).
    """

    logs: RowLogs
    weight: FloatArray
    failures: float
    middle: FloatArray

    @classmethod
    def of(cls, spells: Spells) -> CompositeRows:
        """Gather spells."""
        ends = [np.where(np.isfinite(b.upper), b.upper, b.lower) for b in spells.bounds]
        middle = np.array([np.log(end[end > 0]).mean() if (end > 0).any() else 0.0 for end in ends])
        failures = float(spells.weight[~spells.censored].sum())
        return cls(logs_of(spells), np.asarray(spells.weight), failures, middle)

    def at(self, theta: FloatArray) -> Derivatives:
        """Value, gradient and Hessian; densities per year."""
        logs = self.logs
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            low = _hazard(logs.lower, theta)
            total = _hazard(logs.entry, theta) + low.times(-1.0)
            if logs.exact.any():
                total += masked(self._log_rate(theta), logs.exact)
            if logs.interval.any():
                upper = np.where(logs.interval[:, None], logs.upper, 0.0)
                gap = _hazard(upper, theta) + low.times(-1.0)
                total += masked(log_failed_parts(masked(gap, logs.interval, 1.0)), logs.interval)
        out = Derivatives(3)
        out.value = float(total.value @ self.weight)
        out.gradient = total.gradient @ self.weight
        out.hessian = total.hessian @ self.weight
        return out

    def _log_rate(self, theta: FloatArray) -> Parts:
        """Log hazard per year: ln shape + (shape - 1)·ln z + ln(r/ηu + 1/ηa)."""
        upper = np.where(self.logs.exact[:, None], self.logs.upper, 0.0)
        log_z = _log_sum(upper, theta)
        pace = _log_sum(np.stack([self.logs.log_rate, np.zeros(len(upper))], axis=1), theta)
        out = _raised(log_z, theta[0]) + log_z.times(-1.0) + pace
        out.value[:] += theta[0]
        out.gradient[0] += 1
        return out


def _hazard(log_t: FloatArray, theta: FloatArray) -> Parts:
    """Λ = z^shape, 0 with no slope where both clocks stand at 0."""
    away = np.isfinite(log_t[:, 0]) | np.isfinite(log_t[:, 1])
    y = _raised(_log_sum(np.where(away[:, None], log_t, 0.0), theta), theta[0])
    hazard = np.exp(y.value)
    square = y.gradient[:, None, :] * y.gradient[None, :, :]
    return masked(Parts(hazard, hazard * y.gradient, hazard * (y.hessian + square)), away)


def _log_sum(log_t: FloatArray, theta: FloatArray) -> Parts:
    """Log of u/ηu + a/ηa from the logs of both."""
    km, years = log_t[:, 0] - theta[1], log_t[:, 1] - theta[2]
    value = np.logaddexp(km, years)
    share = np.exp(km - value)
    gradient, hessian = np.zeros((3, len(value))), np.zeros((3, 3, len(value)))
    gradient[1], gradient[2] = -share, share - 1
    both = share * (1 - share)
    hessian[1, 1], hessian[2, 2] = both, both
    hessian[1, 2], hessian[2, 1] = -both, -both
    return Parts(value, gradient, hessian)


def _raised(log_z: Parts, log_shape: float) -> Parts:
    """Y = shape·ln z."""
    out = log_z.times(float(np.exp(log_shape)))
    out.hessian[0, :] = out.hessian[:, 0] = out.gradient
    out.gradient[0] = out.value
    out.hessian[0, 0] = out.value
    return out
