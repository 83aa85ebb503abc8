"""How often to look at a part that shows wear before it fails: the delay-time model.

Christer & Waller 1984, J. Opl Res. Soc. 35:401-406: a defect that can be seen arises, and after a delay it is a
failure. Here for one part by renewal and reward, with checks that may miss; and their own model for a machine on which
defects arise at a constant rate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import CostError
from planner.interval.checks import number, positive
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.search import lowest

if TYPE_CHECKING:
    from planner.interval.costs import Costs
    from planner.interval.path import PathHazard

Array = NDArray[np.float64]

DELAY_SHARE = 0.1
"""Share of a part's life for which its wear can be seen before it fails, where nobody knows better (judgement)."""

_PHASES = 8
_MISSES = 1e-9
_ALL_WORN = 21.0
"""Cumulative hazard after which less than one part in a thousand million is still without visible wear."""

_INTERVALS = np.geomspace(0.01, 3.0, 60)


@dataclass(frozen=True)
class Delay:
    """The time from a defect that can be seen to the failure: Weibull.

    Attributes:
        mean_years: its mean, years.
        shape: 1 for exponential.

    Raises:
        CostError: mean or shape is not positive and finite.
    """

    mean_years: float
    shape: float = 1.0

    def __post_init__(self) -> None:
        positive("mean_years", self.mean_years)
        positive("shape", self.shape)

    def survival(self, years: Array) -> Array:
        """Chance that the delay exceeds so many years (1 before 0)."""
        scale = self.mean_years / math.gamma(1.0 + 1.0 / self.shape)
        return np.exp(-((np.maximum(years, 0.0) / scale) ** self.shape))

    def lived(self, years: Array) -> Array:
        """∫ of the survival from 0 to so many years, by 32-point Gauss-Legendre."""
        if self.shape == 1.0:
            return np.asarray(-self.mean_years * np.expm1(-years / self.mean_years))
        nodes, weights = np.polynomial.legendre.leggauss(32)
        half = np.asarray(years)[..., None] / 2.0
        return np.asarray((self.survival(half * (1.0 + nodes)) * half) @ weights)


@dataclass(frozen=True)
class InspectionRule:
    """The best time between checks of one part.

    Attributes:
        years: between checks; infinite where checking does not pay.
        cost_per_year: checks, renewals of what they find, and failures; mean over draws.
        cost_unchecked: of running to failure.
        found_in_time: share of parts found before they fail.
    """

    years: float
    cost_per_year: float
    cost_unchecked: float
    found_in_time: float


def onset(hazard: PathHazard, delay_share: float = DELAY_SHARE) -> PathHazard:
    """Cumulative hazard of the first visible wear, taken as the life shortened by the share that wear shows.

    Raises:
        CostError: the share is not above 0 and below 1.
    """
    if not 0.0 < number("delay_share", delay_share, "a share above 0 and below 1") < 1.0:
        raise CostError("delay_share", "a share above 0 and below 1", delay_share)
    return lambda years: hazard(years / (1.0 - delay_share))


def best_inspection(
    onset_hazard: PathHazard, costs: Costs, check_cost: float, delay: Delay, sensitivity: float = 1.0
) -> InspectionRule:
    """How often to check one part, renewing it when a check finds it worn.

    Args:
        onset_hazard: cumulative hazard of the first visible wear along the car's path, per draw.
        costs: planned renewal when found in time; failure otherwise.
        check_cost: of one check.
        delay: from visible to failed.
        sensitivity: chance that a check finds wear that is there, above 0 and up to 1.

    Raises:
        CostError: a cost or the sensitivity makes no sense.
    """
    positive("check_cost", check_cost)
    if not 0.0 < number("sensitivity", sensitivity, "a chance above 0 and up to 1") <= 1.0:
        raise CostError("sensitivity", "a chance above 0 and up to 1", sensitivity)
    curve = cost_curve(onset_hazard)
    until_seen = curve.lived_until(curve.years[-1:])[:, 0]
    unchecked = float(np.mean(costs.failure / (until_seen + delay.mean_years)))
    money = costs.planned, costs.failure, check_cost
    grid = _INTERVALS * float(np.median(until_seen) + delay.mean_years)

    def cost(intervals: Array) -> Array:
        return np.array([_cycles(curve, t, money, (delay, sensitivity))[0] for t in intervals])

    years = lowest(grid, cost(grid), cost)
    if math.isinf(years):
        return InspectionRule(math.inf, unchecked, unchecked, 0.0)
    least, found = _cycles(curve, years, money, (delay, sensitivity))
    if least >= unchecked:
        return InspectionRule(math.inf, unchecked, unchecked, 0.0)
    return InspectionRule(years, least, unchecked, found)


def breakdown_share(delay: Delay, interval: float) -> float:
    """b(T): share of defects that become breakdowns when all is checked every `interval`.

    Defects arise at a constant rate and checks find all that are there.
    """
    return 1.0 - float(delay.lived(np.array(interval))) / interval


def best_downtime(
    defect_rate: float, delay: Delay, check_time: float, breakdown_time: float
) -> tuple[float, float]:
    """(interval, share of time down) of Christer & Waller's model: D(T) = (k·T·b(T)·db + di)/(T + di).

    Any unit of time, the same for all.

    Raises:
        CostError: a rate or time is not positive and finite.
    """
    for field, value in (
        ("defect_rate", defect_rate), ("check_time", check_time), ("breakdown_time", breakdown_time),
    ):  # fmt: skip
        positive(field, value)

    def down(intervals: Array) -> Array:
        broken = defect_rate * (intervals - delay.lived(intervals)) * breakdown_time
        return np.asarray((broken + check_time) / (intervals + check_time))

    grid = delay.mean_years * np.geomspace(1e-4, 1e3, 400)
    best = lowest(grid, down(grid), down)
    at = grid[-1] if math.isinf(best) else best
    return best, float(down(np.array([at]))[0])


def _cycles(
    curve: CostCurve, interval: float, money: tuple[float, float, float], looking: tuple[Delay, float]
) -> tuple[float, float]:
    """(mean cost per year, mean share found in time) with checks every `interval` from fitting."""
    planned, failure, check = money
    delay, sensitivity = looking
    edges = _onset_edges(curve, interval)
    seen = -np.diff(np.exp(-curve.hazard(edges)), axis=1)
    middles = (edges[:-1] + edges[1:]) / 2.0
    to_check = interval - middles % interval
    found, lived, checks = after_onset(to_check, interval, delay, sensitivity)
    done_before = np.floor(middles / interval)
    cycle_cost = planned * found + failure * (1.0 - found) + check * (done_before + checks)
    per_draw = (seen @ cycle_cost) / (seen @ (middles + lived))
    return float(per_draw.mean()), float((seen @ found).mean())


def _onset_edges(curve: CostCurve, interval: float) -> Array:
    """Onset times: eight panels per check interval, up to where every draw's parts show wear."""
    worn = np.flatnonzero(curve.hazard(curve.years).min(axis=0) >= _ALL_WORN)
    end = float(curve.years[worn[0] if len(worn) else -1])
    count = min(math.ceil(end / interval), 20_000) * _PHASES
    return np.asarray(np.arange(count + 1) * (interval / _PHASES))


def after_onset(
    to_check: Array, interval: float, delay: Delay, sensitivity: float
) -> tuple[Array, Array, Array]:
    """Chance found in time, time lived and checks made after onset, for onsets `to_check` before the next check."""
    phases, place = np.unique(np.round(to_check / interval, 9), return_inverse=True)
    first = phases * interval
    found, lived, checks = np.zeros_like(first), delay.lived(first), np.zeros_like(first)
    missed, at = 1.0, first
    while missed > _MISSES:
        alive = missed * delay.survival(at)
        found, checks = found + sensitivity * alive, checks + alive
        missed *= 1.0 - sensitivity
        lived = lived + missed * (delay.lived(at + interval) - delay.lived(at))
        at = at + interval
        if float(alive.max()) < _MISSES:
            break
    return found[place], lived[place], checks[place]
