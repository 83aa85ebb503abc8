"""Spells of any number as counts in cells of a log grid, after which a fit costs the same for ten cars or ten million.

The likelihood needs of every row the end and the entry per clock (the cumulative hazards add over clocks), of an exact
failure also (ln km, ln years, ln rate), and of another failure all its bounds. Each of these is counted on a grid of
1/8 in the logs, with first and second moments per cell; see :mod:`planner.life.counts.cells` for why that is finer than a
grid of 1/64 with means alone. Logs of parameters agree with a fit of the rows to less than 1e-4, or to a thousandth of
their standard error where that is more (a clock that wears hardly any part is known that badly anyway). Cells of one fleet, one year or one database can be added.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.life.counts.cells import Cells, gather, together
from planner.life.terms import ExactRows, IntervalRows, Points, Terms, log_of, mean_row

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import Clock, FloatArray, Spells

STEP = 1 / 64
"""Step of the grid of ends and entries, in natural logs."""
FAILURE_STEP = 1 / 8
"""Step of the grids of failures."""
_CHUNK = 1 << 18
_PARTS = 8
_FINE, _FEW = (4_000, 6_000), (120, 250)
"""Most cells of ends, entries and of failures in the likelihood, and in its sketch."""
_PROPORTION = 1e-9


@dataclass(frozen=True, eq=False)
class BinnedSpells:
    """Spells as counts: all that a fit needs of them.

    :func:`spell_counts` makes them from spells. They can also be made from sums by cell that a database has grouped:
    a cell is a weight, a mean and a covariance (zeros if each cell is narrow, 1/64 or less). Rows must be counted as
    follows.

    Attributes:
        clocks: "distance" (km), "age" (years) or both, in that order.
        ends: per clock, ln of the last reading (``upper`` of exact rows, else ``lower``) of rows that moved on it
            (last reading above entry).
        entries: per clock, ln of the entry of the same rows, where above 0.
        exact: exact failures at ln of ``upper`` per clock and, on two clocks, ln of the rate in km per year.
        intervals: other failures at, per clock, ln ``upper`` and ln(ln ``upper`` - ln ``lower``), the latter inf
            where lower is 0; a clock that stood still has 0 and -inf.
        histories: sum of the weights of all rows, censored ones that never moved included.
        tied: whether the clocks run in strict proportion in all rows (two clocks only).

    Raises:
        InputError: columns that do not fit the clocks.
    """

    clocks: tuple[Clock, ...]
    ends: tuple[Cells, ...]
    entries: tuple[Cells, ...]
    exact: Cells
    intervals: Cells
    histories: float
    tied: bool = False

    def __post_init__(self) -> None:
        count = len(self.clocks)
        if self.clocks not in (("distance",), ("age",), ("distance", "age")):
            raise InputError("clocks", "distance, age or both, in that order", self.clocks)
        for name, cells in (("ends", self.ends), ("entries", self.entries)):
            if len(cells) != count or any(c.mean.shape[1:] != (1,) for c in cells):
                raise InputError(name, "cells of one coordinate for each clock", cells)
        for name, own, wanted in (
            ("exact", self.exact, 2 * count - 1),
            ("intervals", self.intervals, 2 * count),
        ):
            if own.mean.shape[1:] != (wanted,):
                raise InputError(name, f"cells of {wanted} coordinates", own.mean.shape)
        if not 0 < self.histories < np.inf:
            raise InputError("histories", "a finite number above 0", self.histories)

    def __add__(self, other: BinnedSpells) -> BinnedSpells:
        """Both together; proportion of the clocks is not known of the sum, and taken to be broken."""
        if self.clocks != other.clocks:
            raise InputError("clocks", "the same in both counts", other.clocks)
        return _sum([self, other])

    def terms(self) -> Terms:
        """The terms of the likelihood: points with the cells' moments."""
        return self._terms(most_points=_FINE[0], most_failures=_FINE[1])

    def few_terms(self) -> Terms:
        """The same on coarser grids: a sketch for searches and draws, right to some hundredths."""
        return self._terms(most_points=_FEW[0], most_failures=_FEW[1])

    def _terms(self, *, most_points: int, most_failures: int) -> Terms:
        log_unit = np.array([_unit(cells, c, self) for c, cells in enumerate(self.ends)])
        exact = _exact_rows(self.exact.at_most(most_failures, FAILURE_STEP), log_unit)
        intervals = _interval_rows(self.intervals.at_most(most_failures, FAILURE_STEP), log_unit)
        sides = zip(self.ends, self.entries, log_unit, strict=True)
        return Terms(
            clocks=self.clocks,
            log_unit=log_unit,
            points=tuple(_points(end, entry, unit, most_points) for end, entry, unit in sides),
            exact=exact,
            intervals=intervals,
            histories=self.histories,
            failures=float(self.exact.weight.sum() + self.intervals.weight.sum()),
            tied=self.tied,
            counted=True,
        )


def spell_counts(spells: Spells) -> BinnedSpells:
    """Count spells in cells, in one pass over their columns; memory beyond them stays small."""
    if not len(spells):
        raise InputError("spells", "at least one row", spells)
    parts: list[BinnedSpells] = []
    for start in range(0, len(spells), _CHUNK):
        parts.append(_chunk(spells, slice(start, start + _CHUNK)))
        if len(parts) == _PARTS:
            parts = [_sum(parts)]
    counts = _sum(parts)
    return BinnedSpells(
        counts.clocks,
        counts.ends,
        counts.entries,
        counts.exact,
        counts.intervals,
        counts.histories,
        _in_proportion(spells),
    )


def _sum(parts: Sequence[BinnedSpells]) -> BinnedSpells:
    first = parts[0]
    return BinnedSpells(
        first.clocks,
        tuple(together([p.ends[c] for p in parts], STEP) for c in range(len(first.clocks))),
        tuple(together([p.entries[c] for p in parts], STEP) for c in range(len(first.clocks))),
        together([p.exact for p in parts], FAILURE_STEP),
        together([p.intervals for p in parts], FAILURE_STEP),
        sum(p.histories for p in parts),
    )


def _chunk(spells: Spells, rows: slice) -> BinnedSpells:
    """Counts of some of the rows."""
    columns = [(b.entry[rows], b.lower[rows], b.upper[rows]) for b in spells.bounds]
    weight = spells.weight[rows]
    failed = np.isfinite(columns[0][2])
    same = np.logical_and.reduce([lower == upper for _, lower, upper in columns])
    exact, interval = np.flatnonzero(same), np.flatnonzero(failed & ~same)
    log_end = [log_of(lower) for _, lower, _ in columns]  # lower is upper in exact rows
    points = [log[exact] for log in log_end]
    if spells.km_per_year is not None:
        points.append(log_of(spells.km_per_year[rows][exact]))
    bounds = [side for _, lower, upper in columns for side in _bounds(lower[interval], upper[interval])]
    ends, entries = [], []
    for (entry, lower, _), log in zip(columns, log_end, strict=True):
        moved = lower > entry
        entered = np.flatnonzero(moved & (entry > 0))
        ends.append(_cells(STEP, *((weight, log) if moved.all() else (weight[moved], log[moved]))))
        entries.append(_cells(STEP, weight[entered], np.log(entry[entered])))
    return BinnedSpells(
        spells.clocks,
        tuple(ends),
        tuple(entries),
        _cells(FAILURE_STEP, weight[exact], *points),
        _cells(FAILURE_STEP, weight[interval], *bounds),
        float(weight.sum()),
    )


def _cells(step: float, weight: FloatArray, *coordinates: FloatArray) -> Cells:
    return gather(weight, np.stack(coordinates, axis=1), step)


def _bounds(lower: FloatArray, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log of the upper bound and log of the width in logs."""
    high = log_of(upper)
    moved = upper > lower
    with np.errstate(divide="ignore", invalid="ignore"):
        width = np.log(np.where(moved, -np.log1p((lower - upper) / upper), 0.0))
    return np.where(moved, high, 0.0), width


def _unit(ends: Cells, clock: int, counts: BinnedSpells) -> float:
    """A log near the data of a clock: the mean of its ends, or where there are none of its failures."""
    upper, width = counts.intervals.mean[:, 2 * clock], counts.intervals.mean[:, 2 * clock + 1]
    failed = np.where(np.isneginf(width), -np.inf, upper)
    for weight, logs in ((ends.weight, ends.mean[:, 0]), (counts.intervals.weight, failed)):
        finite = np.isfinite(logs)
        if finite.any():
            return float(np.average(logs[finite], weights=weight[finite]))
    return 0.0


def _points(ends: Cells, entries: Cells, unit: float, most: int) -> Points:
    (end, end_weight), (entry, entry_weight) = (
        cells.at_most(most, STEP).points() for cells in (ends, entries)
    )
    log_t: FloatArray = np.concatenate([end[:, 0], entry[:, 0]]) - unit
    return Points(log_t, np.concatenate([-end_weight, entry_weight]))


def _exact_rows(cells: Cells, log_unit: FloatArray) -> ExactRows:
    if len(log_unit) == 1:
        return mean_row(cells.mean - log_unit, cells.weight)
    where, weight = cells.points()
    return ExactRows(where[:, :2] - log_unit, where[:, 2] + log_unit[1] - log_unit[0], weight)


def _interval_rows(cells: Cells, log_unit: FloatArray) -> IntervalRows:
    where, weight = cells.points()
    upper = where[:, 0::2] - log_unit
    return IntervalRows(upper - np.exp(where[:, 1::2]), upper, weight)


def _in_proportion(spells: Spells) -> bool:
    """Whether km over years is the same in every reading of every row."""
    if spells.km is None or spells.years is None:
        return False
    low, high = np.inf, -np.inf
    for start in range(0, len(spells), _CHUNK):
        rows = slice(start, start + _CHUNK)
        for side in ("entry", "lower", "upper"):
            km, years = getattr(spells.km, side)[rows], getattr(spells.years, side)[rows]
            counted = ((km > 0) | (years > 0)) & np.isfinite(km)
            ratio = log_of(km[counted]) - log_of(years[counted])
            if not len(ratio):
                continue
            low, high = min(low, float(ratio.min())), max(high, float(ratio.max()))
            if not high - low < _PROPORTION:
                return False
    return high - low < _PROPORTION
