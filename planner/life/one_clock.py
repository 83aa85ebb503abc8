"""Maximum likelihood on one clock: whether a maximum exists, and where.

For a given shape the likelihood is concave in a = -shape·ln scale and has one maximum there. What remains is a curve
over ln shape, followed here from one limit to the other. Its slope at the limits is known: where a failure sits below
a larger clock reading, the curve falls without end as the shape grows; where it does not, the curve rises or levels
off, and the data do not say how lives spread. Only a maximum in between that is higher than both ends counts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import TooFewFailures
from planner.life.interval_rows import decay_of, log_failed
from planner.life.terms import log_of

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.terms import Terms

_STEP = 0.25
_TIE = 1e-9


@dataclass(frozen=True, eq=False)
class Profile:
    """The likelihood maximised over the scale, at each of several shapes.

    Attributes:
        value: log-likelihood in inside units.
        slope: its derivative by ln shape.
        log_scale: where the maximum over the scale lies, inside units.
    """

    value: FloatArray
    slope: FloatArray
    log_scale: FloatArray


def refuse_hopeless(terms: Terms) -> None:
    """Refuse data without a failure, or without a part ever seen good.

    Raises:
        TooFewFailures: saying which.
    """
    if terms.failures <= 0:
        raise TooFewFailures("no part was seen to fail: without a prior nothing bounds the life from above")
    if not any(len(points.weight) for points in terms.points):
        raise TooFewFailures("no part was ever seen good: without a prior nothing bounds the life from below")


def best_start(terms: Terms) -> FloatArray:
    """(ln shape, ln scale) in inside units at the highest interior maximum of one clock's likelihood.

    Raises:
        TooFewFailures: no interior maximum that is higher than both ends of the curve over ln shape.
    """
    refuse_hopeless(terms)
    grid = _shapes(terms)
    curve = _in_chunks(terms, np.exp(grid))
    if curve.slope[-1] > 0 and len(terms.exact.weight):
        raise TooFewFailures(_RISES)
    turns = np.flatnonzero((curve.slope[:-1] > 0) & (curve.slope[1:] <= 0))
    tops = [_bisected(terms, grid[i], grid[i + 1]) for i in turns]
    ends = [(curve.value[0], _FALLS)] if curve.slope[0] <= 0 else []
    ends += [(curve.value[-1], _RISES)] if curve.slope[-1] >= 0 else []
    best = max(tops, key=lambda top: top[0], default=None)
    highest = max(ends, key=lambda end: end[0], default=(-math.inf, _RISES))
    if best is None or best[0] <= highest[0] + 1e-9 * terms.failures:
        raise TooFewFailures(highest[1])
    return best[1]


def scale_at(terms: Terms, shape: float) -> float:
    """The ln scale in inside units at the maximum for a known shape (Weibayes, IEC 61649).

    Raises:
        TooFewFailures: no failure, or no part ever seen good.
    """
    refuse_hopeless(terms)
    return float(profile(terms, np.array([shape])).log_scale[0])


def profile(terms: Terms, shapes: FloatArray) -> Profile:
    """Maximise over the scale at each shape; (m,) shapes in, (m,) arrays out."""
    points, exact, rows = terms.points[0], terms.exact, terms.intervals
    top = float(points.log_t.max())
    shape = shapes[:, None]
    with np.errstate(over="ignore", under="ignore", invalid="ignore", divide="ignore"):
        x = points.log_t - top
        each = np.exp(shape * x) * -points.weight
        exposure, exposure_slope = each.sum(axis=1), each @ x
        upper = rows.log_upper[:, 0] - top
        width = np.where(
            rows.log_upper[:, 0] > rows.log_lower[:, 0], rows.log_upper[:, 0] - rows.log_lower[:, 0], 0.0
        )
        log_delta = shape * upper + np.log(-np.expm1(-shape * width))
        log_delta_slope = upper + decay_of(shape * width) / shape
        failed = float(exact.weight.sum())
        a = _multiplier(failed, log_of(exposure), log_delta, rows.weight)
        log_d = a[:, None] + log_delta
        pull = decay_of(np.exp(log_d)) * rows.weight
        sum_log = float(exact.weight @ (exact.log_t[:, 0] - top))
        value = failed * (np.log(shapes) + a) + (shapes - 1) * sum_log - np.exp(a) * exposure
        value = value + log_failed(log_d) @ rows.weight - failed * top
        slope = failed / shapes + sum_log - np.exp(a) * exposure_slope + (pull * log_delta_slope).sum(axis=1)
    return Profile(value, slope * shapes, top - a / shapes)


def _multiplier(
    failed: float, log_exposure: FloatArray, log_delta: FloatArray, weight: FloatArray
) -> FloatArray:
    """Solve failed + Σ w·D/(e^D - 1) = e^a·exposure, with D = e^a·delta, for a; its excess falls at least as -a."""
    total = failed + float(weight.sum())
    high = math.log(total) - log_exposure
    if not len(weight):
        return high
    low = np.full_like(high, -np.inf) if failed <= 0 else math.log(failed) - log_exposure
    a = high
    for _ in range(200):
        hazard = np.exp(a[:, None] + log_delta)
        pull = decay_of(hazard)
        left = failed + pull @ weight
        excess = np.log(left) - a - log_exposure
        fall = (np.where(pull > 0, pull * (1 - hazard - pull), 0.0) @ weight) / left - 1
        high = np.where(excess < 0, np.minimum(high, a), high)
        low = np.where(excess > 0, np.maximum(low, a), np.maximum(low, a + np.minimum(excess, 0)))
        step = a - excess / fall
        a_next = np.where((step >= low) & (step <= high), step, 0.5 * (np.maximum(low, high - 1e3) + high))
        if np.all(np.abs(a_next - a) <= 1e-14 * (1 + np.abs(a))):
            return a_next
        a = a_next
    return a


def _shapes(terms: Terms) -> FloatArray:
    """Grid of ln shape that reaches far enough for the curve to show its limits."""
    rows = terms.intervals
    logs = np.concatenate([terms.points[0].log_t, rows.log_lower[:, 0], rows.log_upper[:, 0]])
    logs = np.unique(logs[np.isfinite(logs)])
    gaps = np.diff(logs)
    gaps = gaps[gaps > _TIE]
    if not gaps.size:
        raise TooFewFailures("all clocks are the same: the data do not say how lives spread")
    weights = np.concatenate([np.abs(terms.points[0].weight), rows.weight])
    unlike = max(1.0, terms.failures / float(weights.min()))
    low = math.log(1e-3 / float(np.ptp(logs)))
    high = math.log(60.0 / float(gaps.min())) + math.log(unlike)
    return np.arange(low, high + 2 * _STEP, _STEP)


def _in_chunks(terms: Terms, shapes: FloatArray) -> Profile:
    cells = len(terms.points[0].weight) + len(terms.intervals.weight)
    step = max(1, 2_000_000 // max(1, cells))
    parts = [profile(terms, shapes[i : i + step]) for i in range(0, len(shapes), step)]
    return Profile(
        np.concatenate([p.value for p in parts]),
        np.concatenate([p.slope for p in parts]),
        np.concatenate([p.log_scale for p in parts]),
    )


def _bisected(terms: Terms, low: float, high: float) -> tuple[float, FloatArray]:
    """Value and place of the maximum between two values of ln shape."""
    for _ in range(40):
        middle = 0.5 * (low + high)
        rising = profile(terms, np.array([math.exp(middle)])).slope[0] > 0
        low, high = (middle, high) if rising else (low, middle)
    middle = 0.5 * (low + high)
    found = profile(terms, np.array([math.exp(middle)]))
    return float(found.value[0]), np.array([middle, found.log_scale[0]])


_RISES = (
    "the likelihood keeps rising as the shape grows, because the failures may all sit at one reading: "
    "the data do not say how lives spread"
)
_FALLS = "the likelihood is highest as the shape goes to 0: the data do not say how lives spread"
