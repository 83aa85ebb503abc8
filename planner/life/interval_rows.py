"""The chance of failing between two looks, ln(1 - e^-D), with its derivatives; D is the hazard between the looks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.life.row_parts import Parts

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.terms import IntervalRows


def log_chance(rows: IntervalRows, thetas: FloatArray) -> FloatArray:
    """ln(1 - e^-D) of every row at every parameter vector: (m, p) in, (m, n) out."""
    return log_failed(log_gap(rows, thetas))


def log_gap(rows: IntervalRows, thetas: FloatArray) -> FloatArray:
    """Ln D of every row at every parameter vector: (m, p) in, (m, n) out."""
    clocks = rows.log_lower.shape[1]
    logs = [
        log_own_hazard(rows, np.exp(thetas[:, 2 * c, None]), thetas[:, 2 * c + 1, None], c)
        for c in range(clocks)
    ]
    found: FloatArray = logs[0] if clocks == 1 else np.logaddexp(logs[0], logs[1])
    return found


def log_gap_parts(rows: IntervalRows, theta: FloatArray) -> Parts:
    """Ln D of each row with its derivatives, row by row."""
    clocks = rows.log_lower.shape[1]
    logs = [log_own_hazard(rows, np.exp(theta[2 * c]), theta[2 * c + 1], c) for c in range(clocks)]
    value = logs[0] if clocks == 1 else np.logaddexp(logs[0], logs[1])
    size, n = 2 * clocks, len(value)
    gradient, hessian = np.zeros((size, n)), np.zeros((size, size, n))
    for c in range(clocks):
        p, q, shape = 2 * c, 2 * c + 1, np.exp(theta[2 * c])
        share = np.exp(logs[c] - value)
        first, second = _moments(rows, shape, theta[q], c)
        gradient[p], gradient[q] = share * first, -share * shape
        hessian[p, p], hessian[q, q] = share * (first + second), share * shape**2
        hessian[p, q] = hessian[q, p] = -share * shape * (1 + first)
    return Parts(value, gradient, hessian - gradient[:, None, :] * gradient[None, :, :])


def interval_parts(rows: IntervalRows, theta: FloatArray) -> tuple[float, FloatArray, FloatArray]:
    """Weighted sum over the rows of ln(1 - e^-D), with gradient and Hessian.

    With m1 = D_p/D and m2 of each clock (D_p the derivative by ln shape), g = D/(e^D - 1):
    gradient g·∇ln D; Hessian g·(∇²D/D) - g·(D + g)·∇ln D ∇ln Dᵀ.
    """
    clocks = rows.log_lower.shape[1]
    shapes = np.exp(theta[0::2])
    logs = [log_own_hazard(rows, shapes[c], theta[2 * c + 1], c) for c in range(clocks)]
    log_hazard = logs[0] if clocks == 1 else np.logaddexp(logs[0], logs[1])
    hazard = np.exp(log_hazard)
    pull = decay_of(hazard)
    slopes = np.zeros((2 * clocks, len(hazard)))
    hessian = np.zeros((2 * clocks, 2 * clocks))
    for c in range(clocks):
        share = np.exp(logs[c] - log_hazard)
        first, second = _moments(rows, shapes[c], theta[2 * c + 1], c)
        slopes[2 * c], slopes[2 * c + 1] = share * first, -share * shapes[c]
        weighted = rows.weight * pull * share
        cross = -shapes[c] * (weighted @ (1 + first))
        hessian[2 * c, 2 * c] = weighted @ (first + second)
        hessian[2 * c + 1, 2 * c + 1] = shapes[c] ** 2 * weighted.sum()
        hessian[2 * c, 2 * c + 1] = hessian[2 * c + 1, 2 * c] = cross
    curve = np.where(pull > 0, pull * (hazard + pull), 0.0)
    hessian -= (slopes * (rows.weight * curve)) @ slopes.T
    value = float(rows.weight @ log_failed(log_hazard))
    return value, slopes @ (rows.weight * pull), hessian


def log_own_hazard(
    rows: IntervalRows, shape: FloatArray | float, log_scale: FloatArray | float, clock: int
) -> FloatArray:
    """Log of one clock's cumulative hazard between the bounds; -inf where the bounds are equal."""
    width = _width(rows, clock)
    out: FloatArray = shape * (_finite(rows.log_upper[:, clock]) - log_scale) + np.log(
        -np.expm1(-shape * width)
    )
    return out


def _moments(
    rows: IntervalRows, shape: FloatArray, log_scale: FloatArray, clock: int
) -> tuple[FloatArray, FloatArray]:
    """Means of y and y² over the interval, weighted by the hazard's ends: D_p/D and its second companion."""
    upper = shape * (_finite(rows.log_upper[:, clock]) - log_scale)
    width = shape * _width(rows, clock)
    decay = decay_of(width)
    return upper + decay, upper * upper + np.where(decay > 0, decay * (2 * upper - width), 0.0)


def _width(rows: IntervalRows, clock: int) -> FloatArray:
    lower, upper = rows.log_lower[:, clock], rows.log_upper[:, clock]
    out: FloatArray = np.where(upper > lower, upper - lower, 0.0)
    return out


def _finite(logs: FloatArray) -> FloatArray:
    """Logs with 0 in the place of -inf: such a clock has not moved and has no share in the row."""
    out: FloatArray = np.where(np.isfinite(logs), logs, 0.0)
    return out


def decay_of(d: FloatArray) -> FloatArray:
    """d/(e^d - 1), 1 at 0 and 0 far out."""
    out: FloatArray = np.where(d > 0, d / np.expm1(d), 1.0)
    return np.where(np.isfinite(out), out, 0.0)


def log_failed(log_hazard: FloatArray) -> FloatArray:
    """ln(1 - e^-D) from ln D."""
    hazard = np.exp(log_hazard)
    inside = np.where(hazard > 0, -np.expm1(-hazard) / hazard, 1.0)
    out: FloatArray = np.where(hazard > 1, np.log(-np.expm1(-hazard)), log_hazard + np.log(inside))
    return out
