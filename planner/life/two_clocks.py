"""Maximum likelihood on two clocks: the best interior peak, or which clock the data cannot see.

The likelihood is unbounded where the largest reading on a clock is an exact failure (its scale there, its shape without
end), so the peak wanted is a local one with every shape at most 12. Against it stands the edge where one clock's hazard
vanishes: the one-clock maximum, which is a peak of its own if adding the other clock gains nothing at any shape.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import ClockNotIdentified, TooFewFailures
from planner.life.interval_rows import decay_of, log_own_hazard
from planner.life.likelihood import log_hazard, log_likelihood
from planner.life.maximise import maximise
from planner.life.one_clock import best_start, refuse_hopeless
from planner.life.terms import IntervalRows, log_of, mean_row

if TYPE_CHECKING:
    from planner.history.spells import Clock, FloatArray
    from planner.life.maximise import Objective, Stationary
    from planner.life.terms import Points, Terms

LARGEST_SHAPE = 12.0
_FEW_CELLS = 3000
_START_SHAPES = (0.8, 1.5, 3.0, 6.0)
_START_SHARES = (0.2, 0.5, 0.8)


@dataclass(frozen=True)
class Edge:
    """The maximum without one clock.

    Attributes:
        without: the clock left out.
        value: log-likelihood there, inside units of the two-clock terms.
        peak: whether bringing the clock back gains nothing.
    """

    without: Clock
    value: float
    peak: bool


def best_peak(terms: Terms, objective: Objective) -> FloatArray:
    """Inside parameters of the best interior peak.

    Raises:
        TooFewFailures: no interior peak with every shape at most 12.
        ClockNotIdentified: at the maximum one clock's hazard vanishes, or both clocks run in strict proportion.
    """
    refuse_hopeless(terms)
    _refuse_one_that_stands(terms)
    peaks = [peak for peak in _climbs(terms, objective) if _is_interior(peak)]
    best = max(peaks, key=lambda peak: peak.value, default=None)
    edges = [edge for clock in (0, 1) if (edge := _edge(terms, clock)) is not None and edge.peak]
    edge = max(edges, key=lambda e: e.value, default=None)
    if edge is not None and (best is None or edge.value >= best.value * terms.failures - 1e-9):
        raise ClockNotIdentified(
            edge.without,
            f"at the maximum the {edge.without} clock's hazard vanishes: these spells do not say that "
            f"{edge.without} wears the part; fit one clock, or give a prior",
        )
    if best is None:
        raise TooFewFailures(
            "no interior maximum with every shape at most 12: too few failures to tell two clocks apart without a prior"
        )
    return best.theta


def starts(terms: Terms) -> FloatArray:
    """Parameters to start from, (m, 2 per clock): several shapes, scales that expect as many failures as came."""
    failures = max(terms.failures, 0.5 * min(1.0, terms.histories))
    rows = []
    clocks = range(len(terms.clocks))
    shares = _START_SHARES if len(terms.clocks) == 2 else (1.0,)
    for shapes in itertools.product(_START_SHAPES, repeat=len(terms.clocks)):
        for share in shares:
            parts = (share, 1 - share)
            row: list[float] = []
            for c in clocks:
                exposure = _log_exposure(terms.points[c], shapes[c])
                row += [math.log(shapes[c]), (exposure - math.log(parts[c] * failures)) / shapes[c]]
            rows.append(row)
    return np.array(rows)


def _refuse_one_that_stands(terms: Terms) -> None:
    for clock, points in zip(terms.clocks, terms.points, strict=True):
        if not len(points.weight):
            raise ClockNotIdentified(clock, f"the {clock} clock never moved in these spells")
    if terms.tied:
        raise ClockNotIdentified(
            "age",
            "distance and age run in strict proportion in all spells: they cannot be told apart without a prior",
        )


def _climbs(terms: Terms, objective: Objective) -> list[Stationary]:
    candidates = starts(terms)
    values = log_likelihood(terms, candidates)
    cells = sum(len(p.weight) for p in terms.points)
    order = np.argsort(-values)
    chosen = candidates[order if cells <= _FEW_CELLS else order[:12]]
    found = (maximise(objective, start) for start in chosen)
    return [peak for peak in found if peak is not None]


def _is_interior(peak: Stationary) -> bool:
    """A true stationary point: shapes within bounds, each clock carrying failures, slopes small beside its share."""
    shapes = np.exp(peak.theta[0::2])
    if not peak.peaked or (shapes > LARGEST_SHAPE).any() or peak.scaled_gradient(1.0) >= 1e-6:
        return False
    for clock in (0, 1):
        curvature = np.abs(np.diag(peak.information)[2 * clock : 2 * clock + 2])
        slope = np.abs(peak.gradient[2 * clock : 2 * clock + 2])
        if (slope > 1e-4 * curvature).any() or curvature[1] < 1e-7:
            return False
    return True


def _edge(terms: Terms, kept: int) -> Edge | None:
    """The one-clock maximum on clock ``kept``, None where it explains nothing or has no interior maximum."""
    alone = _alone(terms, kept)
    if alone is None:
        return None
    try:
        theta = best_start(alone)
    except TooFewFailures:
        return None
    if theta[0] > math.log(LARGEST_SHAPE):
        return None
    constant = (
        float(terms.exact.weight @ terms.exact.log_rate) if kept == 0 and len(terms.exact.weight) else 0.0
    )
    value = float(log_likelihood(alone, theta[None, :])[0]) + constant
    return Edge(terms.clocks[1 - kept], value, _gains_nothing(terms, kept, theta))


def _alone(terms: Terms, kept: int) -> Terms | None:
    """The same data on one clock; None where a failure happened while that clock stood still."""
    rows, exact = terms.intervals, terms.exact
    if (rows.log_upper[:, kept] <= rows.log_lower[:, kept]).any():
        return None
    if kept == 0 and np.isneginf(exact.log_rate).any():
        return None
    return replace(
        terms,
        clocks=(terms.clocks[kept],),
        log_unit=terms.log_unit[[kept]],
        points=(terms.points[kept],),
        exact=mean_row(exact.log_t[:, [kept]], exact.weight),
        intervals=IntervalRows(rows.log_lower[:, [kept]], rows.log_upper[:, [kept]], rows.weight),
    )


def _gains_nothing(terms: Terms, kept: int, theta: FloatArray) -> bool:
    """Whether a little hazard of the other clock lowers the likelihood at every shape up to 12.

    The gain per unit of multiplier is Σ w·(added hazard / hazard) over failures less the exposure.
    """
    other = 1 - kept
    for shape in np.geomspace(0.02, LARGEST_SHAPE, 80):
        exposure = _log_exposure(terms.points[other], float(shape))
        added = _log_gains(terms, kept, theta, float(shape))
        if added > exposure + 1e-12:
            return False
    return True


def _log_gains(terms: Terms, kept: int, theta: FloatArray, shape: float) -> float:
    """Log of Σ w·(added hazard / hazard) over failures, for the other clock at scale 1."""
    other = 1 - kept
    rows, exact = terms.intervals, terms.exact
    logs = [np.full(1, -np.inf)]
    if len(exact.weight):
        own = log_hazard(exact, theta[0], theta[1], kept)
        logs.append(np.log(exact.weight) + log_hazard(exact, math.log(shape), 0.0, other) - own)
    if len(rows.weight):
        own = log_own_hazard(rows, np.exp(theta[0]), theta[1], kept)
        pull = log_of(decay_of(np.exp(own)))
        logs.append(np.log(rows.weight) + pull + log_own_hazard(rows, shape, 0.0, other) - own)
    return float(np.logaddexp.reduce(np.concatenate(logs)))


def _log_exposure(points: Points, shape: float) -> float:
    """Log of Σ w·(end^shape - entry^shape), 0 where the clock never moved."""
    if not len(points.weight):
        return 0.0
    top = float(points.log_t.max())
    total = -float(points.weight @ np.exp(shape * (points.log_t - top)))
    return shape * top + math.log(max(total, 1e-300))
