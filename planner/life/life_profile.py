"""The likelihood seen from a life at a fraction: that life held, what is left of the parameters free.

One clock leaves (ln shape). Two clocks on a straight path leave (ln shape of distance, ln shape of age, z), where
1/(1 + e^-z) is distance's part of the cumulative hazard at that life.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.life_point import log_years_at
from planner.life.likelihood import Derivatives

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import FloatArray
    from planner.life.problem import Problem


@dataclass(frozen=True, eq=False)
class LifeProfile:
    """A problem in the coordinates of one life at a fraction.

    Attributes:
        problem: the posterior or likelihood.
        log_hazard: log of the cumulative hazard at that life.
        log_rate: log of distance per age along the path, in inside units; unused on one clock.
    """

    problem: Problem
    log_hazard: float
    log_rate: float

    @property
    def two(self) -> bool:
        """Whether there are two clocks."""
        return len(self.problem.terms.clocks) == 2

    @property
    def free(self) -> FloatArray:
        """1 for what moves, 0 for a known shape."""
        return np.ones(3) if self.two else self.problem.free[:1]

    def from_parameters(self, theta: FloatArray) -> tuple[float, FloatArray]:
        """Log of the life (inside units of age, or of the only clock) and the free coordinates."""
        if not self.two:
            return float(theta[1] + self.log_hazard / math.exp(theta[0])), theta[:1].copy()
        log_age = float(log_years_at(theta[None, :], self.log_hazard, math.exp(self.log_rate))[0])
        own = math.exp(theta[0]) * (log_age + self.log_rate - theta[1])
        part = own - self.log_hazard
        odds = part - math.log(-math.expm1(min(part, -1e-15)))
        return log_age, np.array([theta[0], theta[2], odds])

    def spread(self, theta: FloatArray, covariance: FloatArray) -> float:
        """Standard deviation of the log life by the delta method, to start a search with."""
        slope = np.zeros(len(theta))
        for i in range(len(theta)):
            moved = theta.copy()
            moved[i] += 1e-6
            slope[i] = (self.from_parameters(moved)[0] - self.from_parameters(theta)[0]) / 1e-6
        return math.sqrt(max(0.0, float(slope @ covariance @ slope)))

    def at(self, log_life: float) -> Callable[[FloatArray], Derivatives]:
        """The problem with the log life held: a function of the free coordinates."""

        def objective(x: FloatArray) -> Derivatives:
            theta, jacobian, bends = self._parameters(log_life, x)
            inner = self.problem.at(theta)
            out = Derivatives(len(x))
            out.value = inner.value
            out.gradient = jacobian.T @ inner.gradient
            out.hessian = jacobian.T @ inner.hessian @ jacobian + np.tensordot(inner.gradient, bends, axes=1)
            return out

        return objective

    def _parameters(self, log_life: float, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Parameters, their Jacobian (p, free) and second derivatives (p, free, free)."""
        if not self.two:
            return self._one_clock(log_life, x)
        theta, jacobian, bends = np.zeros(4), np.zeros((4, 3)), np.zeros((4, 3, 3))
        z = x[2]
        for clock, sign in ((0, 1.0), (1, -1.0)):
            slack = math.exp(-x[clock])
            part = self.log_hazard - float(np.logaddexp(0.0, -sign * z))
            mine = math.exp(-float(np.logaddexp(0.0, -sign * z)))
            log_t = log_life + (self.log_rate if clock == 0 else 0.0)
            p, q = 2 * clock, 2 * clock + 1
            theta[p], theta[q] = x[clock], log_t - part * slack
            jacobian[p, clock], jacobian[q, clock] = 1.0, part * slack
            jacobian[q, 2] = -sign * (1 - mine) * slack
            bends[q, clock, clock] = -part * slack
            bends[q, 2, 2] = mine * (1 - mine) * slack
            bends[q, clock, 2] = bends[q, 2, clock] = sign * (1 - mine) * slack
        return theta, jacobian, bends

    def _one_clock(self, log_life: float, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        slack = self.log_hazard * math.exp(-x[0])
        bends = np.zeros((2, 1, 1))
        bends[1, 0, 0] = -slack
        return np.array([x[0], log_life - slack]), np.array([[1.0], [slack]]), bends
