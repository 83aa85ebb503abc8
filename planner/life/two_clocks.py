"""Maximum likelihood on two clocks: the best interior peak, or which clock the data cannot see.

The likelihood is unbounded where the largest reading on a clock is an exact failure (its scale there, its shape without
end), so the peak wanted is a local one with every shape at most 12. Against it stands the edge where one clock's hazard
vanishes: the one-clock maximum, which is a peak of its own if adding the other clock gains nothing at any shape.
Where there is no interior peak, a clock that gains less than chi-square would allow, shapes held to 12, is named as the
one that the data do not see; one that gains more has a pull but too few failures behind it.
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
_CLIMB = 200  # a peak is reached in some twenty steps; a spike never
_NO_GAIN = 1e-12
_WORTH_A_CLOCK = (
    3.0  # half the 95 % point of chi-square with two degrees of freedom: a clock's two parameters
)
_SHAPES_TRIED = np.geomspace(0.02, LARGEST_SHAPE, 80)
_START_SHAPES = (0.8, 1.5, 3.0, 6.0)
_START_SHARES = (0.2, 0.5, 0.8)


@dataclass(frozen=True)
class Edge:
    """The maximum without one clock.

    Attributes:
        without: the clock left out.
        value: log-likelihood there, inside units of the two-clock terms.
        peak: whether bringing the clock back gains nothing.
        ways_in: where to start climbing from here, (m, 4): a little of the other clock at the shape that gains most.
    """

    without: Clock
    value: float
    peak: bool
    ways_in: FloatArray


def best_peak(terms: Terms, objective: Objective) -> FloatArray:
    """Inside parameters of the best interior peak.

    Raises:
        TooFewFailures: no interior peak with every shape at most 12.
        ClockNotIdentified: at the maximum one clock's hazard vanishes, or both clocks run in strict proportion.
    """
    refuse_hopeless(terms)
    _refuse_one_that_stands(terms)
    edges = [edge for clock in (0, 1) if (edge := _edge(terms, clock)) is not None]
    ends = _climbs(terms, objective, np.concatenate([starts(terms), *(e.ways_in for e in edges)]))
    best = max((end for end in ends if _is_interior(end)), key=lambda end: end.value, default=None)
    if best is not None:
        edge = max((e for e in edges if e.peak), key=lambda e: e.value, default=None)
        if edge is not None and edge.value >= best.value * terms.failures - 1e-9:
            raise _vanished(edge)
        return best.theta
    edge = max(edges, key=lambda e: e.value, default=None)
    if edge is not None and _at_the_wall(terms, objective, ends) - edge.value < _WORTH_A_CLOCK:
        raise _vanished(edge)
    raise TooFewFailures(
        "no interior maximum with every shape at most 12: too few failures to tell two clocks apart without a prior"
    )


def _vanished(edge: Edge) -> ClockNotIdentified:
    but_for = "" if edge.peak else "but for a spike at its largest readings "
    return ClockNotIdentified(
        edge.without,
        f"{but_for}the {edge.without} clock's hazard vanishes at the maximum: these spells do not say that "
        f"{edge.without} wears the part; fit one clock, or give a prior",
    )


def _at_the_wall(terms: Terms, objective: Objective, ends: list[Stationary]) -> float:
    """Highest log-likelihood found with shapes above 12 brought back to 12 and held there."""
    highest = -math.inf
    for end in ends:
        over = np.array([0, 2])[end.theta[0::2] > math.log(LARGEST_SHAPE)]
        start, free = end.theta.copy(), np.ones(4)
        start[over], free[over] = math.log(LARGEST_SHAPE), 0.0
        found = maximise(objective, start, free) if over.size else None
        if found is not None and (found.theta[0::2] < math.log(LARGEST_SHAPE) + 1e-9).all():
            highest = max(highest, found.value * terms.failures)
    return highest


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


def _climbs(terms: Terms, objective: Objective, candidates: FloatArray) -> list[Stationary]:
    values = log_likelihood(terms, candidates)
    cells = sum(len(p.weight) for p in terms.points)
    order = np.argsort(-values)
    few = cells <= _FEW_CELLS and not terms.counted
    chosen = candidates[order if few else order[:12]]
    found = (maximise(objective, start, steps=_CLIMB) for start in chosen)
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
    gain, shape = max((_gain(terms, kept, theta, float(s)), float(s)) for s in _SHAPES_TRIED)
    ways_in = np.empty((2, 4))
    ways_in[:, 2 * kept : 2 * kept + 2] = theta
    exposure = _log_exposure(terms.points[1 - kept], shape)
    for row, share in zip(ways_in, (0.02, 0.1), strict=True):
        other = (math.log(shape), (exposure - math.log(share * terms.failures)) / shape)
        row[2 - 2 * kept : 4 - 2 * kept] = other
    return Edge(terms.clocks[1 - kept], value, gain <= _NO_GAIN, ways_in)


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


def _gain(terms: Terms, kept: int, theta: FloatArray, shape: float) -> float:
    """Log of what a little hazard of the other clock brings over what it costs.

    It brings Σ w·(added hazard / hazard) over the failures; it costs the exposure.
    """
    return _log_gains(terms, kept, theta, shape) - _log_exposure(terms.points[1 - kept], shape)


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
