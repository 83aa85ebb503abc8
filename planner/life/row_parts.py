"""What one spell contributes, row by row: value, gradient and Hessian of cumulative hazards, hazards and chances from new.

Parameters are (ln shape, ln scale) per clock in km and years. These rows are summed inside a logarithm (mixtures, shared events), so
their derivatives must stand apart, unlike those of :mod:`planner.life.likelihood`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.life.terms import log_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.history.spells import BoolArray, FloatArray, Spells

    IntArray = NDArray[np.signedinteger[Any]]


@dataclass(frozen=True, eq=False)
class Parts:
    """Contributions of rows: value (n,), gradient (p, n), Hessian (p, p, n)."""

    value: FloatArray
    gradient: FloatArray
    hessian: FloatArray

    def __add__(self, other: Parts) -> Parts:
        return Parts(self.value + other.value, self.gradient + other.gradient, self.hessian + other.hessian)

    def times(self, factor: FloatArray | float) -> Parts:
        """Every number of a row times a factor."""
        return Parts(self.value * factor, self.gradient * factor, self.hessian * factor)


@dataclass(frozen=True, eq=False)
class RowLogs:
    """Spells as logs: entry, lower and upper (n, clocks), -inf at 0; log rate (n,); what each row is."""

    entry: FloatArray
    lower: FloatArray
    upper: FloatArray
    log_rate: FloatArray
    exact: BoolArray
    interval: BoolArray


def logs_of(spells: Spells) -> RowLogs:
    """Take logs of spells once."""
    entry, lower, upper = (
        np.stack([log_of(getattr(bounds, name)) for bounds in spells.bounds], axis=1)
        for name in ("entry", "lower", "upper")
    )
    exact = spells.exact
    rate = np.zeros(len(spells))
    if spells.km_per_year is not None:
        rate[exact] = log_of(spells.km_per_year[exact])
    return RowLogs(entry, lower, upper, rate, exact, spells.interval)


def hazard_values(log_t: FloatArray, thetas: FloatArray) -> FloatArray:
    """Cumulative hazards: log clocks (n, clocks) and thetas (m, p) in, (m, n) out."""
    total = np.zeros((len(thetas), len(log_t)))
    for clock in range(log_t.shape[1]):
        total += np.exp(
            np.exp(thetas[:, 2 * clock, None]) * (log_t[:, clock] - thetas[:, 2 * clock + 1, None])
        )
    return total


def log_rate_values(rows: RowLogs, thetas: FloatArray) -> FloatArray:
    """Log hazard at each exact row's failure, per year (per km on distance alone): (m, n)."""
    total = np.full((len(thetas), len(rows.upper)), -np.inf)
    for clock in range(rows.upper.shape[1]):
        log_shape, log_scale = thetas[:, 2 * clock, None], thetas[:, 2 * clock + 1, None]
        own = log_shape - log_scale + (np.exp(log_shape) - 1) * (_finite(rows.upper[:, clock]) - log_scale)
        total = np.logaddexp(total, own + _extra(rows, clock))
    return total


def from_new_values(rows: RowLogs, thetas: FloatArray) -> FloatArray:
    """Log likelihood of each row counted from new, whatever its entry: (m, n)."""
    value = -hazard_values(np.where(rows.exact[:, None], _finite(rows.upper), rows.lower), thetas)
    if rows.exact.any():
        value += np.where(rows.exact, log_rate_values(rows, thetas), 0.0)
    if rows.interval.any():
        between = _between(rows, thetas)
        value += np.where(rows.interval, np.log(-np.expm1(-between)), 0.0)
    return value


def hazard_parts(log_t: FloatArray, theta: FloatArray) -> Parts:
    """Cumulative hazard of each row with its derivatives."""
    n, size = len(log_t), len(theta)
    out = Parts(np.zeros(n), np.zeros((size, n)), np.zeros((size, size, n)))
    for clock in range(log_t.shape[1]):
        p, q = 2 * clock, 2 * clock + 1
        shape = np.exp(theta[p])
        away = np.isfinite(log_t[:, clock])
        y = np.where(away, shape * (_finite(log_t[:, clock]) - theta[q]), 0.0)
        hazard = np.where(away, np.exp(y), 0.0)
        out.value[:] += hazard
        out.gradient[p], out.gradient[q] = hazard * y, -shape * hazard
        out.hessian[p, p], out.hessian[q, q] = hazard * (y + y * y), shape * shape * hazard
        out.hessian[p, q] = out.hessian[q, p] = -shape * hazard * (1 + y)
    return out


def log_rate_parts(rows: RowLogs, theta: FloatArray) -> Parts:
    """Log hazard at failure with its derivatives; of no meaning in rows that are not exact."""
    n, size, clocks = len(rows.upper), len(theta), rows.upper.shape[1]
    own = []
    for clock in range(clocks):
        p, q = 2 * clock, 2 * clock + 1
        shape = np.exp(theta[p])
        y = shape * (_finite(rows.upper[:, clock]) - theta[q])
        part = Parts(np.zeros(n), np.zeros((size, n)), np.zeros((size, size, n)))
        part.value[:] = theta[p] + y - _finite(rows.upper[:, clock]) + _extra(rows, clock)
        part.gradient[p], part.gradient[q] = 1 + y, -shape
        part.hessian[p, p] = y
        part.hessian[p, q] = part.hessian[q, p] = -shape
        own.append(part)
    if clocks == 1:
        return own[0]
    order = np.arange(2 * n).reshape(2, n).T.ravel()
    both = Parts(*(np.concatenate([getattr(o, f) for o in own], axis=-1)[..., order] for f in _FIELDS))
    return log_sum(both, np.zeros(2 * n), np.arange(0, 2 * n, 2))


def from_new_parts(rows: RowLogs, theta: FloatArray) -> Parts:
    """Log likelihood of each row counted from new, with its derivatives."""
    end = np.where(rows.exact[:, None], _finite(rows.upper), rows.lower)
    out = hazard_parts(end, theta).times(-1.0)
    if rows.exact.any():
        rate = log_rate_parts(rows, theta)
        value = np.where(rows.exact, rate.value, 0.0)
        out += Parts(value, rate.gradient * rows.exact, rate.hessian * rows.exact)
    if rows.interval.any():
        out += _chance_parts(rows, theta)
    return out


def log_sum(parts: Parts, log_share: FloatArray, starts: IntArray) -> Parts:
    """Log of Σ share·e^value over runs of rows that begin at ``starts``, with its derivatives."""
    logs = parts.value + log_share
    runs = np.diff(np.append(starts, len(logs)))
    top = np.maximum.reduceat(logs, starts)
    mass = np.exp(logs - np.repeat(top, runs))
    total = np.add.reduceat(mass, starts)
    mass = mass / np.repeat(total, runs)
    gradient = np.add.reduceat(mass * parts.gradient, starts, axis=-1)
    square = parts.gradient[:, None, :] * parts.gradient[None, :, :]
    hessian = np.add.reduceat(mass * (parts.hessian + square), starts, axis=-1)
    return Parts(top + np.log(total), gradient, hessian - gradient[:, None, :] * gradient[None, :, :])


def log_sum_values(values: FloatArray, log_share: FloatArray, starts: IntArray) -> FloatArray:
    """The value of :func:`log_sum` for many thetas: (m, n) in, (m, runs) out."""
    logs = values + log_share
    runs = np.diff(np.append(starts, logs.shape[1]))
    top = np.maximum.reduceat(logs, starts, axis=1)
    safe = np.where(np.isfinite(top), top, 0.0)
    mass = np.exp(logs - np.repeat(safe, runs, axis=1))
    out: FloatArray = safe + np.log(np.add.reduceat(mass, starts, axis=1))
    return out


def log_failed_parts(gap: Parts) -> Parts:
    """Log chance of failing between two looks, 1 - e^-D, with its derivatives; ``gap`` is the hazard D."""
    slope = 1 / np.expm1(gap.value)
    square = gap.gradient[:, None, :] * gap.gradient[None, :, :]
    return Parts(
        np.log(-np.expm1(-gap.value)),
        slope * gap.gradient,
        slope * gap.hessian - slope * (1 + slope) * square,
    )


def masked(parts: Parts, kept: BoolArray, other: float = 0.0) -> Parts:
    """The rows that are kept; the others at a value that does not move."""
    return Parts(
        np.where(kept, parts.value, other),
        np.where(kept, parts.gradient, 0.0),
        np.where(kept, parts.hessian, 0.0),
    )


def _chance_parts(rows: RowLogs, theta: FloatArray) -> Parts:
    """ln(1 - e^-D) of interval rows, zero in the others; D the hazard between lower and upper."""
    upper = np.where(rows.interval[:, None], rows.upper, 0.0)
    lower = np.where(rows.interval[:, None], rows.lower, -np.inf)
    gap = hazard_parts(upper, theta) + hazard_parts(lower, theta).times(-1.0)
    return masked(log_failed_parts(gap), rows.interval)


def _between(rows: RowLogs, thetas: FloatArray) -> FloatArray:
    upper = np.where(rows.interval[:, None], rows.upper, 0.0)
    lower = np.where(rows.interval[:, None], rows.lower, -np.inf)
    return hazard_values(upper, thetas) - hazard_values(lower, thetas)


def _extra(rows: RowLogs, clock: int) -> FloatArray | float:
    return rows.log_rate if clock == 0 and rows.upper.shape[1] == 2 else 0.0


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, 0.0)


_FIELDS = ("value", "gradient", "hessian")
