"""What a fit maximises: log-likelihood plus log prior, in inside units.

Many failures at one reading push a shape up without end, and a weak normal prior on ln shape follows them out to
numbers that no machine holds. A shape of a thousand already says that lives agree to a thousandth, which no odometer
and no calendar can. So with a prior a wall stands there: failures times (shape/1000)^8 is taken off. It is less than
one part in 10^10 for any shape below 50.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.likelihood import derivatives, log_likelihood

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.likelihood import Derivatives
    from planner.life.prior import LifePrior
    from planner.life.terms import Terms

_LOG_WALL = math.log(1000.0)
_STEEP = 8.0


@dataclass(frozen=True, eq=False)
class Problem:
    """A posterior, or with a precision of zeros a likelihood, over (ln shape, ln scale) per clock.

    Attributes:
        terms: the data.
        free: 1 for parameters that are fitted, 0 for a known shape, (p,).
        centre: the prior's mean, and a known shape in its place, in inside units, (p,).
        precision: the prior's inverse variances, 0 where there is none, (p,).
        unit: weight of failures that values and slopes are counted per while maximising.
        wall: weight of the wall against shapes above a thousand, 0 without a prior.
    """

    terms: Terms
    free: FloatArray
    centre: FloatArray
    precision: FloatArray
    unit: float
    wall: float

    def at(self, theta: FloatArray) -> Derivatives:
        """Value, gradient and Hessian at one point, per unit of failures."""
        out = derivatives(self.terms, theta)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            for rows in self.terms.joined:
                rows.add_to(out, theta + self.terms.shift)
        if self.wall:
            self._add_wall(out, theta)
        off = theta - self.centre
        out.value = (out.value - 0.5 * float(self.precision @ off**2)) / self.unit
        out.gradient = (out.gradient - self.precision * off) / self.unit
        out.hessian = (out.hessian - np.diag(self.precision)) / self.unit
        return out

    def log_density(self, thetas: FloatArray) -> FloatArray:
        """Log-likelihood plus log prior, in full, at many points: (m, p) in, (m,) out."""
        values = log_likelihood(self.terms, thetas) - 0.5 * ((thetas - self.centre) ** 2) @ self.precision
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            for rows in self.terms.joined:
                values += rows.log_likelihood(thetas + self.terms.shift)
        if self.wall:
            height = np.exp(_STEEP * np.minimum(thetas[:, 0::2] - _LOG_WALL, 80.0))
            values -= self.wall * height.sum(axis=1)
        return np.where(np.isnan(values), -np.inf, values)

    def _add_wall(self, out: Derivatives, theta: FloatArray) -> None:
        shapes = np.arange(0, len(theta), 2)
        height = self.wall * np.exp(_STEEP * np.minimum(theta[shapes] - _LOG_WALL, 80.0))
        out.value -= float(height.sum())
        out.gradient[shapes] -= _STEEP * height
        out.hessian[shapes, shapes] -= _STEEP**2 * height


def pose(terms: Terms, prior: LifePrior | None, known_shape: float | None) -> Problem:
    """State the problem of a fit."""
    size = 2 * len(terms.clocks)
    free = np.ones(size)
    centre = np.zeros(size) if prior is None else prior.mean - terms.shift
    precision = np.zeros(size) if prior is None else prior.spread**-2.0
    if known_shape is not None:
        free[0], precision[0], centre[0] = 0.0, 0.0, math.log(known_shape)
    unit = max(terms.failures, 0.0 if prior is None else 1.0)
    wall = 0.0 if prior is None else 1.0 + terms.failures
    return Problem(terms, free, centre, precision, unit if unit > 0 else 1.0, wall)
