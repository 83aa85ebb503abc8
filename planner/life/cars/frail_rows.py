"""What the parts of each car add to a fit at a given spread between cars: gamma frailty, intervals by quadrature over Z.

With R = k + ΣwΛ(last good), d = Σw over the exact failures and x = R·Z a car contributes, up to a constant,

    -(k + d)·ln R + Σ w·ln h(exact) + ln E[Π (1 - exp(-x·D/R))^w],   x gamma with shape k + d and rate 1,

D the hazard between the two looks of an interval row. Without interval rows the last term is absent: the closed form. With them it is
a sum over fixed values of x, evenly spaced in ln x, which do not move with the parameters, so that the derivatives stay exact.
Weights are powers, as everywhere in a fit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.life.interval_rows import decay_of, log_failed, log_gap, log_gap_parts
from planner.life.likelihood import in_steps
from planner.life.row_parts import (
    Parts,
    RowLogs,
    hazard_parts,
    hazard_values,
    log_rate_parts,
    log_rate_values,
    log_sum,
    logs_of,
)
from planner.life.terms import IntervalRows

if TYPE_CHECKING:
    from planner.history.spells import Clock, FloatArray, Spells
    from planner.life.likelihood import Derivatives
    from planner.life.row_parts import IntArray

_TAIL = math.log(1e-8)


@dataclass(frozen=True, eq=False)
class Gaps:
    """Interval rows of the cars that have any, with the values of x that each such car is averaged over.

    Attributes:
        rows: bounds and weights, (n,), by car.
        car: the car of each row, counted among all cars, (n,).
        starts: first row of each car that has any, (cars with intervals,).
        x: values of R·Z, (cars with intervals, nodes).
        log_share: log of the weight of each, (cars with intervals, nodes).
    """

    rows: IntervalRows
    car: IntArray
    starts: IntArray
    x: FloatArray
    log_share: FloatArray

    @property
    def with_gaps(self) -> IntArray:
        """Numbers of the cars that have interval rows."""
        cars: IntArray = self.car[self.starts]
        return cars


@dataclass(frozen=True, eq=False)
class FrailRows:
    """Spells by car at a given k: rows that add to a fit."""

    clocks: tuple[Clock, ...]
    histories: float
    shape: float
    logs: RowLogs
    weight: FloatArray
    starts: IntArray
    failures: FloatArray
    gaps: Gaps | None
    selected: bool

    def failed(self, theta: FloatArray) -> float:  # noqa: ARG002 - every failure here is certain
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        between = 0.0 if self.gaps is None else float(self.gaps.rows.weight.sum())
        return float(self.failures.sum()) + between

    def add_to(self, out: Derivatives, theta: FloatArray) -> None:
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        rate = log_rate_parts(self.logs, theta)
        exact = self.logs.exact
        seen = Parts(rate.value[exact], rate.gradient[:, exact], rate.hessian[:, :, exact])
        out.add(seen.times(self.weight[exact]))
        end = self._log_of(hazard_parts(self.logs.lower, theta))
        out.add(end.times(-(self.shape + self.failures)))
        if self.selected:
            entry = self._log_of(hazard_parts(self.logs.entry, theta))
            out.add(entry.times(np.full(len(self.starts), self.shape)))
        if self.gaps is not None:
            out.add(_averaged(self.gaps, end, theta))
        out.value += self._constant()

    def log_likelihood(self, thetas: FloatArray) -> FloatArray:
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        cells = len(self.weight)
        if self.gaps is not None:
            cells += len(self.gaps.car) * self.gaps.x.shape[1]
        return in_steps(self._some, thetas, cells)

    def _some(self, thetas: FloatArray) -> FloatArray:
        ends = self._total(hazard_values(self.logs.lower, thetas))
        value = -np.log(ends) @ (self.shape + self.failures)
        if self.selected:
            entries = self._total(hazard_values(self.logs.entry, thetas))
            value += np.log(entries).sum(axis=1) * self.shape
        exact = self.logs.exact
        if exact.any():
            value += log_rate_values(self.logs, thetas)[:, exact] @ self.weight[exact]
        if self.gaps is not None:
            value += averaged_values(self.gaps, ends, thetas).sum(axis=1)
        found: FloatArray = value + self._constant()
        return found

    def _total(self, hazards: FloatArray) -> FloatArray:
        found: FloatArray = self.shape + np.add.reduceat(hazards * self.weight, self.starts, axis=1)
        return found

    def _log_of(self, hazards: Parts) -> Parts:
        """ln(k + ΣwΛ) per car."""
        own = hazards.times(self.weight)
        total = self.shape + np.add.reduceat(own.value, self.starts)
        gradient = np.add.reduceat(own.gradient, self.starts, axis=-1) / total
        hessian = np.add.reduceat(own.hessian, self.starts, axis=-1) / total
        return Parts(np.log(total), gradient, hessian - gradient[:, None, :] * gradient[None, :, :])

    def _constant(self) -> float:
        each = sum(math.lgamma(self.shape + d) for d in self.failures)
        each -= len(self.failures) * math.lgamma(self.shape)
        return each if self.selected else each + len(self.failures) * self.shape * math.log(self.shape)


def frail_rows(spells: Spells, cars: IntArray, shape: float, *, selected: bool = True) -> FrailRows:
    """Gather spells by car; see :func:`planner.life.cars.frailty.fit_with_cars`."""
    order = np.argsort(cars, kind="stable")
    ordered, at = cars[order], spells.take(order)
    starts = np.flatnonzero(np.append(True, ordered[1:] != ordered[:-1]))
    failures = np.add.reduceat(at.exact * at.weight, starts)
    number = np.cumsum(np.append(0, ordered[1:] != ordered[:-1]))
    logs = logs_of(at)
    gaps = gaps_of(logs, at.weight, number, shape + failures)
    return FrailRows(
        spells.clocks,
        float(spells.weight.sum()),
        shape,
        logs,
        np.asarray(at.weight),
        starts,
        failures,
        gaps,
        selected,
    )


def gaps_of(logs: RowLogs, weight: FloatArray, car: IntArray, count: FloatArray) -> Gaps | None:
    """Interval rows with their nodes; ``count`` is k + d of every car. None where there are no such rows."""
    between = logs.interval
    if not between.any():
        return None
    rows = IntervalRows(logs.lower[between], logs.upper[between], weight[between])
    own = car[between]
    starts = np.flatnonzero(np.append(True, own[1:] != own[:-1]))
    x, log_share = nodes(count[own[starts]], np.add.reduceat(rows.weight, starts))
    return Gaps(rows, own, starts, x, log_share)


def nodes(count: FloatArray, intervals: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values of x, evenly spaced in ln x, and log weights of a gamma law with shape ``count`` and rate 1, (cars, nodes) each.

    The trapezium rule in ln x: the integrand falls off at both ends, so its error falls faster than any power of the step. Up to
    ``intervals`` more powers of x come with the interval rows.
    """
    from scipy.special import gammaln  # noqa: PLC0415 - loaded only when needed

    most = count + intervals
    low = np.minimum((_TAIL + gammaln(count + 1)) / count, np.log(count))
    high = np.log(most + 8 * np.sqrt(most) + 20)
    wanted = (high - low) / np.minimum(0.5, 1 / np.sqrt(most))
    size = math.ceil(float(wanted.max())) + 1
    step = (high - low) / (size - 1)
    log_x = low[:, None] + step[:, None] * np.arange(size)
    x = np.exp(log_x)
    log_share: FloatArray = count[:, None] * log_x - x - gammaln(count)[:, None] + np.log(step)[:, None]
    return x, log_share


def averaged_values(gaps: Gaps, ends: FloatArray, thetas: FloatArray) -> FloatArray:
    """Ln E[Π (1 - exp(-x·D/R))^w] per car with intervals: (m, cars with intervals); ``ends`` is R, (m, cars)."""
    log_ratio = log_gap(gaps.rows, thetas) - np.log(ends[:, gaps.car])
    which = np.repeat(np.arange(len(gaps.starts)), np.diff(np.append(gaps.starts, len(gaps.car))))
    each = gaps.rows.weight[:, None] * log_failed(log_ratio[:, :, None] + np.log(gaps.x)[which])
    total = np.add.reduceat(each, gaps.starts, axis=1) + gaps.log_share
    top = total.max(axis=2)
    found: FloatArray = top + np.log(np.exp(total - top[:, :, None]).sum(axis=2))
    return found


def _averaged(gaps: Gaps, log_ends: Parts, theta: FloatArray) -> Parts:
    """The same with derivatives, at one parameter vector; ``log_ends`` is ln R per car."""
    ends = Parts(
        log_ends.value[gaps.car], log_ends.gradient[:, gaps.car], log_ends.hessian[:, :, gaps.car]
    ).times(-1.0)
    ratio = log_gap_parts(gaps.rows, theta) + ends
    runs = np.diff(np.append(gaps.starts, len(gaps.car)))
    log_x = np.log(np.repeat(gaps.x, runs, axis=0))
    log_hazard = ratio.value[:, None] + log_x
    hazard, weight = np.exp(log_hazard), gaps.rows.weight[:, None]
    pull = decay_of(hazard)
    curve = np.where(pull > 0, pull * (1 - hazard - pull), 0.0)
    square = ratio.gradient[:, None, :] * ratio.gradient[None, :, :]
    value = np.add.reduceat(weight * log_failed(log_hazard), gaps.starts, axis=0)
    first, second = weight * pull, weight * curve
    gradient = np.add.reduceat(ratio.gradient[:, :, None] * first, gaps.starts, axis=1)
    hessian = np.add.reduceat(
        ratio.hessian[..., None] * first + square[..., None] * second, gaps.starts, axis=2
    )
    size = len(theta)
    many = Parts(value.ravel(), gradient.reshape(size, -1), hessian.reshape(size, size, -1))
    begin = np.arange(len(gaps.starts)) * gaps.x.shape[1]
    return log_sum(many, gaps.log_share.ravel(), begin)
