"""Rows whose setting changed in mid-life: their clocks as ∫exp(-x·γ) over the stretches, with derivatives by γ.

The shared parameters are (ln shape, ln scale) per clock and then γ. With V the virtual clock and y = shape·(ln V - ln scale) the hazard is
e^y; the rate at which V runs, exp(-x·γ) where the row ends, enters the density of an exact failure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.likelihood import Derivatives, in_steps
from planner.life.row_parts import Parts, log_failed_parts, log_sum, log_sum_values, masked
from planner.life.terms import log_of

if TYPE_CHECKING:
    from planner.history.spells import Clock, FloatArray, Spells
    from planner.life.row_parts import IntArray


@dataclass(frozen=True, eq=False)
class Stretches:
    """Time spent in each setting, row by row, one after another.

    Attributes:
        starts: first stretch of each row, (rows,).
        x: setting of each stretch, (stretches, modifiers).
        begin: clock at which each begins, (stretches, clocks), 0 for the first of a row.
        end: clock at which each ends, inf for the last of a row.
    """

    starts: IntArray
    x: FloatArray
    begin: FloatArray
    end: FloatArray

    def spent(self, clock: FloatArray, which: int) -> FloatArray:
        """Km or years that each stretch holds of a row's clock, (rows,) in, (stretches,) out."""
        runs = np.diff(np.append(self.starts, len(self.x)))
        upto = np.repeat(clock, runs)
        found: FloatArray = np.clip(upto - self.begin[:, which], 0.0, (self.end - self.begin)[:, which])
        return found


@dataclass(frozen=True, eq=False)
class VirtualClock:
    """One side (entry, lower or upper) of all rows on one clock: what each stretch holds, and the settings that bear on the clock."""

    spent: FloatArray
    x: FloatArray
    starts: IntArray

    def logs(self, gammas: FloatArray) -> FloatArray:
        """Ln V, -inf at 0: (m, modifiers) in, (m, rows) out."""
        total = np.add.reduceat(np.exp(-gammas @ self.x.T) * self.spent, self.starts, axis=1)
        return log_of(total)

    def parts(self, gamma: FloatArray, size: int) -> Parts:
        """Ln V with derivatives by the shared parameters, of which γ are the last; 0 with no slope where V is 0."""
        each = np.exp(-self.x @ gamma) * self.spent
        total = np.add.reduceat(each, self.starts)
        away = total > 0
        runs = np.diff(np.append(self.starts, len(each)))
        share = each / np.repeat(np.where(away, total, 1.0), runs)
        mean = -np.add.reduceat(share * self.x.T, self.starts, axis=1)
        square = self.x.T[:, None, :] * self.x.T[None, :, :]
        curve = np.add.reduceat(share * square, self.starts, axis=2) - mean[:, None, :] * mean[None, :, :]
        out = _none(len(total), size)
        first = size - len(gamma)
        out.value[:] = np.where(away, np.log(np.where(away, total, 1.0)), -np.inf)
        out.gradient[first:], out.hessian[first:, first:] = mean, curve
        return out


@dataclass(frozen=True, eq=False)
class ChangingRows:
    """Rows whose setting changed while they were watched or before: they stand beside the links of a joint fit."""

    clocks: tuple[Clock, ...]
    weight: FloatArray
    exact: FloatArray
    interval: FloatArray
    log_rate: FloatArray
    last: FloatArray
    entry: tuple[VirtualClock, ...]
    lower: tuple[VirtualClock, ...]
    upper: tuple[VirtualClock, ...]

    @property
    def failures(self) -> float:
        """Sum of the weights of failed rows."""
        return float(self.weight @ (self.exact + self.interval))

    def at(self, shared: FloatArray) -> Derivatives:
        """Value, gradient and Hessian."""
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            low = self._hazard(self.lower, shared)
            total = self._hazard(self.entry, shared) + low.times(-1.0)
            if self.exact.any():
                total += masked(self._log_rate(shared), self.exact > 0)
            if self.interval.any():
                gap = self._hazard(self.upper, shared) + low.times(-1.0)
                total += masked(log_failed_parts(masked(gap, self.interval > 0, 1.0)), self.interval > 0)
        out = Derivatives(len(shared))
        out.value = float(total.value @ self.weight)
        out.gradient = total.gradient @ self.weight
        out.hessian = total.hessian @ self.weight
        return out

    def values(self, shared: FloatArray) -> FloatArray:
        """Log-likelihood at many: (m, shared) in, (m,) out."""
        return in_steps(self._some, shared, len(self.entry[0].spent))

    def _some(self, shared: FloatArray) -> FloatArray:
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            low = self._hazards(self.lower, shared)
            total = self._hazards(self.entry, shared) - low
            if self.exact.any():
                total += np.where(self.exact > 0, self._log_rates(shared), 0.0)
            if self.interval.any():
                gap = self._hazards(self.upper, shared) - low
                total += np.where(self.interval > 0, np.log(-np.expm1(-gap)), 0.0)
        found: FloatArray = total @ self.weight
        return found

    def _hazards(self, side: tuple[VirtualClock, ...], shared: FloatArray) -> FloatArray:
        gammas = shared[:, 2 * len(side) :]
        total = np.zeros((len(shared), len(self.weight)))
        for c, clock in enumerate(side):
            total += np.exp(
                np.exp(shared[:, 2 * c, None]) * (clock.logs(gammas) - shared[:, 2 * c + 1, None])
            )
        return total

    def _log_rates(self, shared: FloatArray) -> FloatArray:
        size = len(self.clocks)
        gammas = shared[:, 2 * size :]
        own = np.empty((len(shared), len(self.weight), size))
        for c, clock in enumerate(self.upper):
            log_v = _finite(clock.logs(gammas))
            y = np.exp(shared[:, 2 * c, None]) * (log_v - shared[:, 2 * c + 1, None])
            own[:, :, c] = shared[:, 2 * c, None] + y - log_v - gammas @ self.last[c].T + self.log_rate[c]
        flat = own.reshape(len(shared), -1)
        return log_sum_values(flat, np.zeros(flat.shape[1]), np.arange(0, flat.shape[1], size))

    def _hazard(self, side: tuple[VirtualClock, ...], shared: FloatArray) -> Parts:
        total = _none(len(self.weight), len(shared))
        for c, clock in enumerate(side):
            y = _scaled(clock.parts(shared[2 * len(side) :], len(shared)), shared, c)
            hazard = np.exp(y.value)
            gradient = np.where(hazard > 0, hazard * y.gradient, 0.0)
            square = y.gradient[:, None, :] * y.gradient[None, :, :]
            total += Parts(hazard, gradient, np.where(hazard > 0, hazard * (y.hessian + square), 0.0))
        return total

    def _log_rate(self, shared: FloatArray) -> Parts:
        size, own = len(self.clocks), []
        first = 2 * size
        for c, clock in enumerate(self.upper):
            log_v = clock.parts(shared[first:], len(shared))
            log_v = Parts(_finite(log_v.value), log_v.gradient, log_v.hessian)
            part = _scaled(log_v, shared, c) + log_v.times(-1.0)
            part.value[:] += shared[2 * c] - self.last[c] @ shared[first:] + self.log_rate[c]
            part.gradient[2 * c] += 1
            part.gradient[first:] -= self.last[c].T
            own.append(part)
        if size == 1:
            return own[0]
        order = np.arange(2 * len(self.weight)).reshape(2, -1).T.ravel()
        both = Parts(*(np.concatenate([getattr(o, f) for o in own], axis=-1)[..., order] for f in _FIELDS))
        return log_sum(both, np.zeros(len(order)), np.arange(0, len(order), 2))


def changing_rows(spells: Spells, stretches: Stretches, bears: FloatArray) -> ChangingRows:
    """Gather rows with their stretches.

    Args:
        spells: the rows.
        stretches: of every row.
        bears: 1 where a modifier bears on a clock, else 0, (clocks, modifiers).
    """
    exact = spells.exact
    sides = []
    for name in ("entry", "lower", "upper"):
        side = []
        for c, bounds in enumerate(spells.bounds):
            clock = getattr(bounds, name)
            clock = np.where(np.isfinite(clock), clock, bounds.lower)
            side.append(VirtualClock(stretches.spent(clock, c), stretches.x * bears[c], stretches.starts))
        sides.append(tuple(side))
    log_rate = np.zeros((len(spells.bounds), len(spells)))
    if spells.km_per_year is not None:
        log_rate[0, exact] = log_of(spells.km_per_year[exact])
    rows = np.arange(len(spells))
    ends = _setting_at_end(spells, stretches)
    last = np.stack([stretches.x[ends[c][rows]] * bears[c] for c in range(len(spells.bounds))])
    return ChangingRows(
        spells.clocks,
        np.asarray(spells.weight),
        exact.astype(np.float64),
        spells.interval.astype(np.float64),
        log_rate,
        last,
        *sides,
    )


def _setting_at_end(spells: Spells, stretches: Stretches) -> list[IntArray]:
    """Number of the stretch in which each row ends, by clock; the earlier one where it ends on the border."""
    runs = np.diff(np.append(stretches.starts, len(stretches.x)))
    found = []
    for c, bounds in enumerate(spells.bounds):
        end = np.repeat(bounds.lower, runs)
        begun = np.add.reduceat((stretches.begin[:, c] < end).astype(np.int64), stretches.starts)
        found.append(stretches.starts + np.maximum(begun, 1) - 1)
    return found


def _scaled(log_v: Parts, shared: FloatArray, clock: int) -> Parts:
    """Y = shape·(ln V - ln scale) with derivatives."""
    p, q = 2 * clock, 2 * clock + 1
    shape = np.exp(shared[p])
    out = log_v.times(shape)
    out.value[:] -= shape * shared[q]
    slope = out.gradient.copy()
    slope[q] = -shape
    out.gradient[p], out.gradient[q] = out.value, -shape
    out.hessian[p, :], out.hessian[:, p] = slope, slope
    out.hessian[p, p] = out.value
    return out


def _none(rows: int, size: int) -> Parts:
    return Parts(np.zeros(rows), np.zeros((size, rows)), np.zeros((size, size, rows)))


def _finite(values: FloatArray) -> FloatArray:
    return np.where(np.isfinite(values), values, 0.0)


_FIELDS = ("value", "gradient", "hessian")
