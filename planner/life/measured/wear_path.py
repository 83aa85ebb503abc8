"""Remaining life of a measured part from its own wear path, with the population's life as the prior of its rate.

The measured figure moves in a straight line from where it was first measured (or from new) to its limit, which it reaches at clock T:
y_i = z + (limit - z)·(t_i - t_1)/(T - t_1) + error_i, with z the true figure at t_1 and T distributed a priori as the life of such
parts, given that the limit was not reached at t_1. z has a flat prior and is integrated out in closed form; T stands on a grid
(Meeker, Escobar & Pascual 2022, chapters on degradation: linear paths with random rates).

Measurements that go back from the limit by more than their error, or along no line, are refused (`wear_line`): a very long life
would follow from them. With one measurement nothing is known of this part's own rate, and the answer is the population's conditional life exactly. With
several, their line takes over as fast as their error allows. A measurement is no inspection: limits of makers and authorities stand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import InputError
from planner.life.measured.wear_line import UNEVEN, refuse_what_is_no_wear

if TYPE_CHECKING:
    from planner.history.measurements import MeasuredWear
    from planner.history.spells import FloatArray
    from planner.life.model import Life

Direction = Literal["falling", "rising"]

ERROR_SHARE = 0.05
"""Error (sd) of a measurement where none is stated, as a share of the wear allowed (expert judgement)."""

_GRID = 2_000
_AHEAD_NODES = 21


@dataclass(frozen=True, eq=False)
class WearPath:
    """Where a measured part stands and when it reaches its limit; clocks in km or years as measured.

    Attributes:
        clock: "distance" or "age".
        now: the part's clock for which this holds.
        value_now: low (10 %), likely and high (90 %) figure now.
        rate: low, likely and high change of the figure per km or year, negative where it falls.
        remaining: low, likely and high clock left to the limit; 0 where it has been reached.
        at_limit: chance that the limit has been reached already.
        own_share: how much the part's own path says, 0 (all population) to 1.
        basis: in words.
        lives: clock at which the limit may be reached, shape (n,), rising, with `probability`, shape (n,), summing to 1.
    """

    clock: str
    now: float
    value_now: tuple[float, float, float]
    rate: tuple[float, float, float]
    remaining: tuple[float, float, float]
    at_limit: float
    own_share: float
    basis: str
    lives: FloatArray
    probability: FloatArray

    def limit_within(self, more: float) -> float:
        """Chance that the limit is reached within `more` km or years from now (reached already counts)."""
        if not (math.isfinite(more) and more >= 0.0):
            raise InputError("more", "a finite distance or time of at least 0", more)
        return float(self.probability[self.lives <= self.now + more].sum())


def wear_path(
    wear: MeasuredWear,
    life: Life,
    *,
    limit: float | None = None,
    start: float | None = None,
    error: float | None = None,
    direction: Direction | None = None,
) -> WearPath:
    """Estimate a part's wear path.

    Args:
        wear: its measurements.
        life: life of such parts on the clock of the measurements, to the limit.
        limit: where it must be renewed; the limit written with the measurements where left out.
        start: the figure from new (or as last set), known as well as a measurement; None leaves the first measurement as start.
        error: sd of a measurement in its own unit; `ERROR_SHARE` of the wear allowed where left out.
        direction: whether wear lowers or raises the figure; told from the first figure and the limit where left out.

    Raises:
        InputError: no limit, a life without that clock, an error not above 0, an unknown direction, or figures that start beyond
            the limit.
        WearContradicted: the figures go back from the limit by more than their error.
        WearUneven: they go towards it along no line.
    """
    bound = _limit(wear, limit)
    at, value = _points(wear, start)
    falling = _falling(value[0], bound, direction)
    spread = _error(error, value[0], bound)
    refuse_what_is_no_wear(at, value, spread, falling=falling)
    lives, prior = _population(life, wear.clock, at[0])
    log_seen, figure = _likelihood(lives, at, value, bound, spread)
    probability = prior * np.exp(log_seen - log_seen.max())
    probability /= probability.sum()
    return _answer(wear, bound, at, lives, (prior, probability), figure, falling=falling)


def _limit(wear: MeasuredWear, limit: float | None) -> float:
    bound = wear.limit if limit is None else limit
    if bound is None or not math.isfinite(bound):
        raise InputError("limit", "the figure at which the part must be renewed", bound)
    return bound


def _points(wear: MeasuredWear, start: float | None) -> tuple[FloatArray, FloatArray]:
    at, value = np.asarray(wear.at, dtype=float), np.asarray(wear.value, dtype=float)
    if (
        at.size == 0
        or at.shape != value.shape
        or not (np.all(np.isfinite(at)) and np.all(np.isfinite(value)))
    ):
        raise InputError("wear", "at least one measurement, all finite", value)
    if not math.isfinite(wear.now):
        raise InputError("wear.now", "a finite clock, not before the last measurement", wear.now)
    if np.any(np.diff(at) < 0) or at[0] < 0 or wear.now < at[-1]:
        raise InputError("wear.at", "clocks of at least 0, rising, none after now", at)
    if start is None:
        return at, value
    if not math.isfinite(start):
        raise InputError("start", "a finite figure", start)
    return np.concatenate([[0.0], at]), np.concatenate([[start], value])


def _falling(first: float, limit: float, direction: Direction | None) -> bool:
    if direction not in (None, "falling", "rising"):
        raise InputError("direction", '"falling" or "rising"', direction)
    falling = limit < first if direction is None else direction == "falling"
    if first == limit or falling != (limit < first):
        raise InputError("limit", f"a limit that the first figure ({first:g}) had not reached", limit)
    return falling


def _error(error: float | None, first: float, limit: float) -> float:
    spread = ERROR_SHARE * abs(limit - first) if error is None else error
    if not (math.isfinite(spread) and spread > 0.0):
        raise InputError("error", "a finite sd above 0", error)
    return spread


def _population(life: Life, clock: str, first: float) -> tuple[FloatArray, FloatArray]:
    """Clocks at which the limit may be reached, and their probability a priori given that it was not at `first`."""
    if clock not in life.clocks:
        raise InputError("life", f"a life with the {clock} clock", life.clocks)
    column = 2 * life.clocks.index("distance" if clock == "distance" else "age")
    shape, scale = np.exp(life.draws[:, column]), np.exp(life.draws[:, column + 1])
    from_first = (first / scale) ** shape
    short = np.min(scale * (from_first + 1e-6) ** (1.0 / shape))
    long = np.max(scale * (from_first + 30.0) ** (1.0 / shape))
    edges = first + np.geomspace(max(short - first, 1e-9 * long), long - first, _GRID + 1)
    survival = np.exp(from_first[:, None] - (edges[None, :] / scale[:, None]) ** shape[:, None]).mean(axis=0)
    survival[0], survival[-1] = 1.0, 0.0
    return np.sqrt(edges[1:] * edges[:-1]), -np.diff(survival)


def _likelihood(
    lives: FloatArray, at: FloatArray, value: FloatArray, limit: float, spread: float
) -> tuple[FloatArray, FloatArray]:
    """Log likelihood of each life, with the first true figure integrated out; and that figure's mean given the life."""
    covered = (at - at[0])[None, :] / (lives - at[0])[:, None]
    left, seen = 1.0 - covered, value[None, :] - limit * covered
    weight = np.sum(left**2, axis=1)
    figure = np.sum(left * seen, axis=1) / weight
    residual = np.sum((seen - left * figure[:, None]) ** 2, axis=1)
    return -0.5 * residual / spread**2 - 0.5 * np.log(weight), figure


def _answer(
    wear: MeasuredWear,
    limit: float,
    at: FloatArray,
    lives: FloatArray,
    chances: tuple[FloatArray, FloatArray],
    figure: FloatArray,
    *,
    falling: bool,
) -> WearPath:
    prior, probability = chances
    rate = (limit - figure) / (lives - at[0])
    value = figure + rate * (wear.now - at[0])
    ahead, share = _uneven(lives, probability, wear.now, alone=len(at) == 1)
    remaining = _points_of(np.maximum(ahead - wear.now, 0.0), share)
    own = 1.0 - min(1.0, _spread(lives, probability) / _spread(lives, prior))
    return WearPath(
        wear.clock,
        wear.now,
        _points_of(value, probability),
        _points_of(rate, probability),
        remaining,
        float(share[ahead <= wear.now].sum()),
        0.0 if len(at) == 1 else own,
        _basis(wear, at, falling=falling),
        ahead,
        share,
    )


def _uneven(
    lives: FloatArray, probability: FloatArray, now: float, *, alone: bool
) -> tuple[FloatArray, FloatArray]:
    """Lives with the stretch ahead scattered; a single measurement keeps the population's, which holds that scatter already."""
    if alone:
        return lives, probability
    nodes, weights = np.polynomial.hermite_e.hermegauss(_AHEAD_NODES)
    left = lives - now
    spread = np.where(left[:, None] > 0, left[:, None] * np.exp(UNEVEN * nodes[None, :]), left[:, None])
    each = probability[:, None] * (weights / weights.sum())[None, :]
    order = np.argsort(spread, axis=None)
    return now + spread.ravel()[order], each.ravel()[order]


def _points_of(values: FloatArray, probability: FloatArray) -> tuple[float, float, float]:
    order = np.argsort(values)
    reached = np.cumsum(probability[order])
    low, likely, high = (
        float(values[order][min(len(values) - 1, int(np.searchsorted(reached, q * reached[-1])))])
        for q in (0.1, 0.5, 0.9)
    )
    return low, likely, high


def _spread(lives: FloatArray, probability: FloatArray) -> float:
    """Standard deviation of the log of the life."""
    logs = np.log(lives)
    mean = np.sum(probability * logs)
    return float(np.sqrt(np.sum(probability * (logs - mean) ** 2)))


def _basis(wear: MeasuredWear, at: FloatArray, *, falling: bool) -> str:
    count = len(wear.at)
    if len(at) == 1:
        return "one measurement: the rate is that of such parts"
    words = f"{count} measurements" if count > 1 else "one measurement and the figure from new"
    return f"{words}: its own {'falling' if falling else 'rising'} line"
