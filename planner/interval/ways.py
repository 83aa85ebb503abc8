"""Ways of living with a part, tabulated over yearly distance beside its intervals: checking it, and the rule of thumb.

What checking costs is worked out as in `planner.interval.inspection`, on fewer points: a table is made while somebody
waits, and two figures are shown. A test holds it against the exact search.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from planner.interval.checks import positive
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.inspection import Delay, after_onset, onset
from planner.interval.path import LifeOnClocks, path_hazard
from planner.interval.search import mean_cost

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.interval.costs import Costs

Array = NDArray[np.float64]

RATES = np.geomspace(200.0, 40_000.0, 7)
"""Yearly distances of the table, km: ways change little with it."""

_DRAWS = 40
_PANELS = 600
_INTERVALS = np.geomspace(0.02, 2.0, 25)
_WORN = 18.0
COLUMNS = ("check_years", "check_cost", "found", "thumb_cost")


@dataclass(frozen=True)
class Checking:
    """What checking a kind costs and finds.

    Attributes:
        cost: of one check.
        share: of its life for which wear shows before it fails.
        finds: chance that a check finds wear that is there.
    """

    cost: float
    share: float
    finds: float


@dataclass(frozen=True)
class Thumb:
    """The rule of thumb: renew at so many km or years, whichever comes first; None: on the other clock alone."""

    km: float | None
    years: float | None

    def years_at(self, km_per_year: float) -> float:
        """Its years on a car's path; infinite where neither is ever reached."""
        by_age = math.inf if self.years is None else self.years
        return by_age if self.km is None or km_per_year <= 0 else min(by_age, self.km / km_per_year)


@dataclass(frozen=True)
class WaysTable:
    """Ways by yearly distance.

    Attributes:
        rates: yearly distances, km.
        nodes: check_years: between checks, infinite where checking does not pay; check_cost: per year; found: share of
            parts found before they fail; thumb_cost: per year by the rule of thumb.
    """

    rates: Array
    nodes: Mapping[str, Array]

    def at(self, km_per_year: float) -> dict[str, float]:
        """Every column at one yearly distance: costs and years interpolated in their logarithms; NaN: not worked out."""
        rate = float(np.clip(km_per_year, self.rates[0], self.rates[-1]))
        after = int(np.clip(np.searchsorted(self.rates, rate, side="right"), 1, len(self.rates) - 1))
        span = math.log(self.rates[after] / self.rates[after - 1])
        part = math.log(rate / self.rates[after - 1]) / span
        return {name: _mixed(self.nodes[name][after - 1], self.nodes[name][after], part) for name in COLUMNS}

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; infinite and missing values become words."""
        nodes = {name: [value if math.isfinite(value) else str(value) for value in map(float, column)]
                 for name, column in self.nodes.items()}  # fmt: skip
        return {"rates": [float(rate) for rate in self.rates], "nodes": nodes}

    @classmethod
    def from_dict(cls, content: Mapping[str, Any]) -> WaysTable:
        """What `to_dict` wrote."""
        nodes = {name: np.array([float(value) for value in content["nodes"][name]]) for name in COLUMNS}
        return cls(np.array(content["rates"], dtype=np.float64), nodes)


def ways_table(
    life: LifeOnClocks, costs: Costs, *, checking: Checking | None, thumb: Thumb, discount: float = 0.0
) -> WaysTable:
    """Tabulate checking and the rule of thumb over yearly distance.

    Args:
        life: of the kind; some of its draws serve.
        costs: planned and failure cost.
        checking: what a check costs and finds; None: checking is left out.
        thumb: the rule of thumb.
        discount: continuous discount rate per year, for the rule of thumb.

    Raises:
        CostError: a cost, share or chance makes no sense.
    """
    if checking is not None:
        positive("checking.cost", checking.cost)
        onset(lambda years: years, checking.share)
    few = replace(life, draws=life.draws[:: max(1, len(life.draws) // _DRAWS)])  # type: ignore[type-var, attr-defined]
    rows = [_row(few, costs, float(rate), checking, thumb, discount) for rate in RATES]
    return WaysTable(RATES, {name: np.array([row[name] for row in rows]) for name in COLUMNS})


def _row(
    life: LifeOnClocks, costs: Costs, rate: float, checking: Checking | None, thumb: Thumb, discount: float
) -> dict[str, float]:
    hazard = path_hazard(life, rate)
    curve = cost_curve(hazard, new_part_fault=costs.new_part_fault, discount=discount)
    row = dict.fromkeys(COLUMNS, math.nan)
    years = thumb.years_at(rate)
    if math.isfinite(years):
        row["thumb_cost"] = float(mean_cost(curve, costs, np.array([years]))[0])
    if checking is not None:
        seen = cost_curve(onset(hazard, checking.share))
        row |= dict(zip(COLUMNS[:3], best_check(seen, costs, checking), strict=True))
    return row


def best_check(seen: CostCurve, costs: Costs, checking: Checking) -> tuple[float, float, float]:
    """(years between checks, cost per year, share found in time); infinite years where checking does not pay.

    Args:
        seen: of the first visible wear.
        costs: planned and failure cost.
        checking: what a check costs and finds.
    """
    middles, mass = _onsets(seen)
    life = float(np.median((mass @ middles) / mass.sum(axis=1)))
    delay = Delay(checking.share / (1.0 - checking.share) * life)
    unchecked = float(np.mean(costs.failure / (mass @ middles / mass.sum(axis=1) + delay.mean_years)))
    tried = _INTERVALS * (life + delay.mean_years)
    found = [_cycles(mass, middles, each, costs, checking, delay) for each in tried]
    best = int(np.argmin([cost for cost, _ in found]))
    cost, share = found[best]
    if cost >= unchecked or best == len(tried) - 1:
        return math.inf, unchecked, 0.0
    return float(tried[best]), cost, share


def _onsets(seen: CostCurve) -> tuple[Array, Array]:
    """(middles of panels, chance that wear first shows in each per draw)."""
    worn = np.flatnonzero(seen.hazard(seen.years).min(axis=0) >= _WORN)
    end = float(seen.years[worn[0] if len(worn) else -1])
    edges = end * np.linspace(0.0, 1.0, _PANELS + 1) ** 2
    alive = np.exp(-seen.hazard(edges))
    return (edges[:-1] + edges[1:]) / 2.0, -np.diff(alive, axis=1)


def _cycles(
    mass: Array, middles: Array, interval: float, costs: Costs, checking: Checking, delay: Delay
) -> tuple[float, float]:
    """(mean cost per year, share found) when checked every `interval`; the phase of a panel wider than it is averaged."""
    widths = np.gradient(middles)
    phases = np.where(
        widths[:, None] > interval / 4.0, (np.arange(8) + 0.5) / 8.0, ((middles / interval) % 1.0)[:, None]
    )
    flat = np.round((1.0 - phases.ravel()) * interval, 9)
    values = after_onset(np.maximum(flat, 1e-9), interval, delay, checking.finds)
    found, lived, checks = (value.reshape(phases.shape).mean(axis=1) for value in values)
    before = np.floor(middles / interval)
    cycle = costs.planned * found + costs.failure * (1.0 - found) + checking.cost * (before + checks)
    per_draw = (mass @ cycle) / (mass @ (middles + lived))
    return float(per_draw.mean()), float((mass @ found).mean())


def _mixed(low: float, high: float, part: float) -> float:
    """Between two values in their logarithms; in their own measure where one is 0; infinite where one is."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return math.nan if math.isnan(low) or math.isnan(high) else math.inf
    if low <= 0 or high <= 0:
        return low + part * (high - low)
    return math.exp(math.log(low) + part * (math.log(high) - math.log(low)))
