"""The sums that a likelihood is made of: spells turned into logs, signed weights and the rows that stay rows.

The log-likelihood is Σ w·ln h(exact) - Σ w·Λ(end) + Σ w·Λ(entry) + Σ w·ln(1 - exp(-[Λ(upper) - Λ(lower)])), the last
over interval rows; the end of a row is its upper where exact, else its lower. Λ separates by clock, so ends and
entries are kept per clock as points with a signed weight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.history.spells import BoolArray, Clock, ClockBounds, FloatArray, Spells
    from planner.life.joined_rows import JoinedRows


@dataclass(frozen=True, eq=False)
class Points:
    """Points at which one clock's cumulative hazard enters, each with its signed weight.

    Attributes:
        log_t: natural log of the clock in its unit, (n,); points at 0 are left out.
        weight: positive for entries, negative for ends, (n,).
    """

    log_t: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class ExactRows:
    """Exact failures: log clocks (n, clocks), log of the rate in units of the clocks (n,), weight (n,)."""

    log_t: FloatArray
    log_rate: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class IntervalRows:
    """Interval- and left-censored failures: log bounds (n, clocks) each, -inf at 0, and weight (n,)."""

    log_lower: FloatArray
    log_upper: FloatArray
    weight: FloatArray


@dataclass(frozen=True, eq=False)
class Terms:
    """Everything that a likelihood needs of the data.

    Attributes:
        clocks: the clocks, distance first.
        log_unit: natural log of the unit in which each clock is counted inside, (clocks,); chosen near the data.
        points: per clock.
        exact: exact failures.
        intervals: other failures.
        histories: sum of all weights.
        failures: sum of the weights of failed rows.
        tied: whether the clocks run in strict proportion over all rows (two clocks only).
        joined: rows that cannot be summed beforehand; not counted in histories and failures.
        counted: whether each point stands for many rows.
    """

    clocks: tuple[Clock, ...]
    log_unit: FloatArray
    points: tuple[Points, ...]
    exact: ExactRows
    intervals: IntervalRows
    histories: float
    failures: float
    tied: bool = False
    joined: tuple[JoinedRows, ...] = ()
    counted: bool = False

    @property
    def shift(self) -> FloatArray:
        """What to add to inside parameters (ln shape, ln scale in units) to have them in km and years."""
        out = np.zeros(2 * len(self.clocks))
        out[1::2] = self.log_unit
        return out

    @property
    def density_constant(self) -> float:
        """What to add to a log-likelihood in inside units for densities per km or, with an age clock, per year."""
        return -float(self.exact.weight.sum()) * float(self.log_unit[-1])


def terms_of(spells: Spells) -> Terms:
    """Turn spells into the terms of their likelihood, row by row."""
    exact, interval = spells.exact, spells.interval
    log_unit = np.array([_log_unit(b, exact) for b in spells.bounds])
    logs = [_logs(b, unit) for b, unit in zip(spells.bounds, log_unit, strict=True)]
    return Terms(
        clocks=spells.clocks,
        log_unit=log_unit,
        points=tuple(
            _points(b, unit, exact, spells.weight) for b, unit in zip(spells.bounds, log_unit, strict=True)
        ),
        exact=_exact_rows(spells, exact, log_unit),
        intervals=IntervalRows(
            np.stack([low[interval] for low, _ in logs], axis=1),
            np.stack([high[interval] for _, high in logs], axis=1),
            spells.weight[interval],
        ),
        histories=float(spells.weight.sum()),
        failures=float(spells.weight[exact | interval].sum()),
        tied=_in_proportion(spells),
    )


def log_of(values: FloatArray) -> FloatArray:
    """Natural log, -inf at 0 without a warning."""
    with np.errstate(divide="ignore"):
        out: FloatArray = np.log(values)
    return out


def _log_unit(bounds: ClockBounds, exact: BoolArray) -> float:
    ends = np.where(exact | np.isinf(bounds.upper), bounds.lower, bounds.upper)
    positive = ends[ends > 0]
    return float(np.log(positive).mean()) if positive.size else 0.0


def _logs(bounds: ClockBounds, unit: float) -> tuple[FloatArray, FloatArray]:
    return log_of(bounds.lower) - unit, log_of(bounds.upper) - unit


def _points(bounds: ClockBounds, unit: float, exact: BoolArray, weight: FloatArray) -> Points:
    end = np.where(exact, bounds.upper, bounds.lower)
    moved = end > bounds.entry
    entered = moved & (bounds.entry > 0)
    return Points(
        np.concatenate([np.log(end[moved]), np.log(bounds.entry[entered])]) - unit,
        np.concatenate([-weight[moved], weight[entered]]),
    )


def _exact_rows(spells: Spells, exact: BoolArray, log_unit: FloatArray) -> ExactRows:
    log_t = np.stack([log_of(b.upper[exact]) for b in spells.bounds], axis=1) - log_unit
    weight = spells.weight[exact]
    if spells.km_per_year is None:
        return mean_row(log_t, weight)
    log_rate = log_of(spells.km_per_year[exact]) + log_unit[1] - log_unit[0]
    return ExactRows(log_t, log_rate, weight)


def mean_row(log_t: FloatArray, weight: FloatArray) -> ExactRows:
    """On one clock ln h is linear in ln t, so all exact rows stand in one at their mean log."""
    if not len(weight):
        return ExactRows(log_t, np.zeros(0), weight)
    total = weight.sum(keepdims=True)
    mean = (log_t[:, 0] * (weight / total)).sum(keepdims=True)
    return ExactRows(mean[:, None], np.zeros(1), total)


def _in_proportion(spells: Spells) -> bool:
    if spells.km is None or spells.years is None:
        return False
    sides = [(spells.km.entry, spells.years.entry), (spells.km.lower, spells.years.lower)]
    failed = ~spells.censored
    sides.append((spells.km.upper[failed], spells.years.upper[failed]))
    km = np.concatenate([k for k, _ in sides])
    years = np.concatenate([y for _, y in sides])
    away = (km > 0) | (years > 0)
    if not away.any() or (km[away] <= 0).any() or (years[away] <= 0).any():
        return False
    ratio = np.log(km[away]) - np.log(years[away])
    return bool(np.ptp(ratio) < 1e-9)
