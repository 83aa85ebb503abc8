"""The log-likelihood of two Weibull clocks with its gradient and Hessian, in logs throughout.

Parameters are (ln shape, ln scale) per clock in the inside units of the terms. With y = shape·(ln t - ln scale) the
cumulative hazard is e^y, so its derivatives are sums of e^y, y·e^y and y²·e^y. An interval row's ln(1 - e^-D) is
taken as ln D + ln((1 - e^-D)/D) with ln D from the clocks' logs, so that neither a tiny nor a huge D loses digits.
Value and derivatives are not finite where a hazard overflows; an optimiser steps back from there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.life.interval_rows import interval_parts, log_chance

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import FloatArray
    from planner.life.row_parts import Parts
    from planner.life.terms import ExactRows, Points, Terms

_CELLS = 1_000_000


class Derivatives:
    """Value, gradient (p,) and Hessian (p, p), gathered term by term."""

    def __init__(self, size: int) -> None:
        self.value = 0.0
        self.gradient = np.zeros(size)
        self.hessian = np.zeros((size, size))

    @property
    def finite(self) -> bool:
        """Whether every number is finite."""
        return bool(
            np.isfinite(self.value) and np.isfinite(self.gradient).all() and np.isfinite(self.hessian).all()
        )

    def add(self, parts: Parts) -> None:
        """Add what rows contribute."""
        self.value += float(parts.value.sum())
        self.gradient += parts.gradient.sum(axis=-1)
        self.hessian += parts.hessian.sum(axis=-1)


def derivatives(terms: Terms, theta: FloatArray) -> Derivatives:
    """Log-likelihood, gradient and Hessian at one parameter vector."""
    out = Derivatives(len(theta))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for clock, points in enumerate(terms.points):
            _add_points(out, points, theta, clock)
        if len(terms.exact.weight):
            _add_exact(out, terms.exact, theta)
        if len(terms.intervals.weight):
            value, gradient, hessian = interval_parts(terms.intervals, theta)
            out.value += value
            out.gradient += gradient
            out.hessian += hessian
    return out


def log_likelihood(terms: Terms, thetas: FloatArray) -> FloatArray:
    """Log-likelihood at many parameter vectors: (m, p) in, (m,) out; -inf where a hazard overflows."""
    cells = (
        sum(len(p.weight) for p in terms.points) + len(terms.exact.weight) + 2 * len(terms.intervals.weight)
    )
    values = in_steps(lambda some: _some(terms, some), thetas, cells)
    return np.where(np.isfinite(values), values, -np.inf)


def in_steps(value: Callable[[FloatArray], FloatArray], thetas: FloatArray, cells: int) -> FloatArray:
    """A value at many parameter vectors, so many at a time that not too many cells are worked on at once.

    Args:
        value: of some: (m, p) in, (m,) out.
        thetas: all of them.
        cells: that each of them works on.
    """
    step = max(1, _CELLS // max(1, cells))
    parts = [value(thetas[start : start + step]) for start in range(0, len(thetas), step)]
    return np.concatenate(parts or [np.zeros(0)])


def _some(terms: Terms, thetas: FloatArray) -> FloatArray:
    total = np.zeros(len(thetas))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for clock, points in enumerate(terms.points):
            y = np.exp(thetas[:, 2 * clock, None]) * (points.log_t - thetas[:, 2 * clock + 1, None])
            total += np.exp(y) @ points.weight
        if len(terms.exact.weight):
            own = [
                log_hazard(terms.exact, thetas[:, 2 * clock, None], thetas[:, 2 * clock + 1, None], clock)
                for clock in range(len(terms.points))
            ]
            total += (own[0] if len(own) == 1 else log_sum(own[0], own[1])) @ terms.exact.weight
        if len(terms.intervals.weight):
            total += log_chance(terms.intervals, thetas) @ terms.intervals.weight
    return total


def log_sum(a: FloatArray, b: FloatArray) -> FloatArray:
    """ln(e^a + e^b), to rounding; several times faster than numpy's own, which large fits would wait for."""
    apart = np.abs(a - b)
    np.exp(np.negative(apart, out=apart), out=apart)
    apart += 1.0
    out: FloatArray = np.log(apart, out=apart)
    out += np.maximum(a, b)
    return out


def _add_points(out: Derivatives, points: Points, theta: FloatArray, clock: int) -> None:
    p, q = 2 * clock, 2 * clock + 1
    shape = np.exp(theta[p])
    y = shape * (points.log_t - theta[q])
    hazard = points.weight * np.exp(y)
    zeroth, first, second = hazard.sum(), hazard @ y, hazard @ (y * y)
    out.value += float(zeroth)
    out.gradient[p] += first
    out.gradient[q] -= shape * zeroth
    out.hessian[p, p] += first + second
    out.hessian[q, q] += shape * shape * zeroth
    cross = -shape * (zeroth + first)
    out.hessian[p, q] += cross
    out.hessian[q, p] += cross


def log_hazard(
    rows: ExactRows, log_shape: FloatArray | float, log_scale: FloatArray | float, clock: int
) -> FloatArray:
    """Log of one clock's hazard at the exact rows, per unit of the clock in which densities are counted."""
    away = np.where(np.isfinite(rows.log_t[:, clock]), rows.log_t[:, clock], 0.0)
    value: FloatArray = log_shape - log_scale + (np.exp(log_shape) - 1) * (away - log_scale)
    if clock == 0 and rows.log_t.shape[1] == 2:
        value = value + rows.log_rate
    return value


def _add_exact(out: Derivatives, rows: ExactRows, theta: FloatArray) -> None:
    clocks = rows.log_t.shape[1]
    logs = [log_hazard(rows, theta[2 * c], theta[2 * c + 1], c) for c in range(clocks)]
    total = logs[0] if clocks == 1 else np.logaddexp(logs[0], logs[1])
    out.value += float(rows.weight @ total)
    slopes = np.zeros((2 * clocks, len(rows.weight)))
    for c in range(clocks):
        shape = np.exp(theta[2 * c])
        away = np.where(np.isfinite(rows.log_t[:, c]), rows.log_t[:, c], 0.0)
        y = shape * (away - theta[2 * c + 1])
        share = np.exp(logs[c] - total)
        weighted = rows.weight * share
        slopes[2 * c], slopes[2 * c + 1] = share * (1 + y), -share * shape
        own = np.array([1 + y, np.full_like(y, -shape)])
        block = (own * weighted) @ own.T
        block[0, 0] += weighted @ y
        block[0, 1] -= shape * weighted.sum()
        block[1, 0] = block[0, 1]
        out.hessian[2 * c : 2 * c + 2, 2 * c : 2 * c + 2] += block
    out.gradient += slopes @ rows.weight
    out.hessian -= (slopes * rows.weight) @ slopes.T
