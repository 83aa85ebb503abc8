"""Intervals of one life tabulated over yearly distance, so that replanning a fleet is array arithmetic."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import CostError, UsageError
from planner.interval.advice import BOUNDS, BoundBy, Interval
from planner.interval.caps import NO_CAP, Cap
from planner.interval.nodes import COLUMNS, node
from planner.interval.optimum import WORN_AWAY, WORTHWHILE, discount_rate
from planner.interval.ways import WaysTable
from planner.interval.wording import reason_in_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.interval.costs import Costs
    from planner.interval.path import LifeOnClocks

Array = NDArray[np.float64]

DEFAULT_RATES = np.geomspace(50.0, 60_000.0, 32)
"""Yearly distances of a table, kilometres a year: from a car that hardly moves to a taxi."""

_SCHEMA = 1
_COST, _RISK, _CAP, _RUN = range(4)


@dataclass(frozen=True)
class IntervalColumns:
    """Intervals for many cars at once; every field has the shape of the yearly distances asked for.

    Attributes:
        km, years: renewal on each car's path; infinite for run to failure; km NaN where the car stands still.
        cost_per_year, cost_run_to_failure: expected costs per year.
        low_years, high_years: the range within 5 % of the best cost.
        chance_by_then: chance of failing before renewal.
        bound_by: index into `planner.interval.advice.BOUNDS`.
        distance_wears_most: whether distance does most of the wearing.
    """

    km: Array
    years: Array
    cost_per_year: Array
    cost_run_to_failure: Array
    low_years: Array
    high_years: Array
    chance_by_then: Array
    bound_by: NDArray[np.int8]
    distance_wears_most: NDArray[np.bool_]


@dataclass(frozen=True)
class IntervalTable:
    """The best interval of one life at given costs and limits, for any yearly distance.

    Between grid points everything is interpolated in the logarithm of the yearly distance (years and costs in
    their logarithm) and the rules for limits and run to failure are applied to the interpolated values; the
    tests hold the error against direct optimisation. Outside the grid a life on distance alone scales exactly,
    and a life on both clocks is never given a longer interval than at the edge. Beside the intervals stand other ways of
    living with the part, where they were worked out (`ways`). Where a part in its own circumstances may not be renewed later than
    such parts usually are, their table stands behind (`no_longer_than`): it decides wherever it renews earlier.
    """

    clocks: tuple[str, ...]
    rates: Array
    planned: float
    cap: Cap
    nodes: Mapping[str, Array]
    ways: WaysTable | None = None
    no_longer_than: IntervalTable | None = None

    def columns(self, km_per_year: ArrayLike) -> IntervalColumns:
        """Intervals at each yearly distance, kilometres a year.

        Raises:
            UsageError: a yearly distance is negative or not finite.
        """
        rate = _checked(km_per_year)
        own = self._columns(rate)
        return own if self.no_longer_than is None else _shorter(own, self.no_longer_than.columns(rate))

    def _columns(self, rate: Array) -> IntervalColumns:
        held, stretch = self._inside(rate)
        value = self._interpolated(held, stretch)
        with np.errstate(divide="ignore", invalid="ignore"):
            cap = _cap_years(self.cap, rate)
            limit = np.minimum(value["risk"], cap)
            run = (value["saved"] < WORTHWHILE) | (value["reach"] < WORN_AWAY) | np.isinf(value["years"])
            years = np.where(run, limit, np.minimum(value["years"], limit))
            km = np.where(np.isinf(years), np.inf, np.where(rate > 0, rate * years, np.nan))
            endless = np.isinf(years)
            cost = np.where(endless, value["run"], np.maximum(value["cost"], self.planned / years))
        code = np.where(limit <= years, np.where(value["risk"] < cap, _RISK, _CAP), _COST)
        return IntervalColumns(
            km=km,
            years=years,
            cost_per_year=cost,
            cost_run_to_failure=value["run"],
            low_years=np.minimum(value["low"], years),
            high_years=np.maximum(np.minimum(value["high"], limit), years),
            chance_by_then=np.where(endless, 1.0, value["chance"]),
            bound_by=np.where(endless, _RUN, code).astype(np.int8),
            distance_wears_most=self._wears(rate) > 0.5,
        )

    def at(self, km_per_year: float) -> Interval:
        """The interval at one yearly distance, with its reason in words.

        Raises:
            UsageError: the yearly distance is negative or not finite.
        """
        return reason_in_words(self.at_each([km_per_year])[0], self.clocks)

    def at_each(self, km_per_year: Sequence[float]) -> list[Interval]:
        """The intervals at several yearly distances, without words.

        Raises:
            UsageError: a yearly distance is negative or not finite.
        """
        rates = np.asarray(km_per_year, dtype=np.float64)
        row = self.columns(rates)
        near = np.abs(np.log(self.rates / np.maximum(rates[:, None], self.rates[0]))).argmin(axis=1)
        return [self._interval(row, place, int(node), float(rates[place])) for place, node in enumerate(near)]

    def limit_at(self, km_per_year: float) -> tuple[float, BoundBy]:
        """The latest that risk limit and cap allow at one yearly distance, in years, and which of them it is.

        Infinite years without any.
        """
        rate = _checked(km_per_year)
        held, stretch = self._inside(rate)
        risk = float(self._interpolated(held, stretch)["risk"])
        with np.errstate(divide="ignore"):
            cap = float(_cap_years(self.cap, rate))
        return min(risk, cap), "risk" if risk < cap else "cap"

    def _interval(self, row: IntervalColumns, place: int, node: int, km_per_year: float) -> Interval:
        flip, share = float(self.nodes["flip"][node]), float(self.nodes["share"][node])
        bound_by = BOUNDS[int(row.bound_by[place])]
        return Interval(
            km=None if math.isnan(row.km[place]) else float(row.km[place]),
            years=float(row.years[place]),
            cost_per_year=float(row.cost_per_year[place]),
            cost_run_to_failure=float(row.cost_run_to_failure[place]),
            run_to_failure=bound_by == "run to failure",
            bound_by=bound_by,
            within_5_percent=(float(row.low_years[place]), float(row.high_years[place])),
            reason="",
            km_per_year=km_per_year,
            chance_by_then=float(row.chance_by_then[place]),
            flips_at_failure_cost=None if math.isnan(flip) or bound_by in {"cap", "risk"} else flip,
            wears_most=None if math.isnan(share) else ("distance" if share > 0.5 else "age"),
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain data for JSON; infinite and missing values become null, told apart by their column."""
        return {
            "schema": _SCHEMA,
            "clocks": list(self.clocks),
            "rates": [float(rate) for rate in self.rates],
            "planned": self.planned,
            "cap": {"km": self.cap.km, "years": self.cap.years},
            "nodes": {name: [_plain(x) for x in column] for name, column in self.nodes.items()},
            "ways": None if self.ways is None else self.ways.to_dict(),
            **({} if self.no_longer_than is None else {"no_longer_than": self.no_longer_than.to_dict()}),
        }

    @classmethod
    def from_dict(cls, content: Mapping[str, Any]) -> IntervalTable:
        """The table that `to_dict` wrote.

        Raises:
            CostError: the content is of another schema.
        """
        if content.get("schema") != _SCHEMA:
            raise CostError("schema", f"an interval table of schema {_SCHEMA}", content.get("schema"))
        nodes = {name: _filled(name, content["nodes"][name]) for name in COLUMNS}
        usual = content.get("no_longer_than")
        return cls(
            clocks=tuple(content["clocks"]),
            rates=np.array(content["rates"], dtype=np.float64),
            planned=float(content["planned"]),
            cap=Cap(km=content["cap"]["km"], years=content["cap"]["years"]),
            nodes=nodes,
            ways=None if content.get("ways") is None else WaysTable.from_dict(content["ways"]),
            no_longer_than=None if usual is None else cls.from_dict(usual),
        )

    def _inside(self, rate: Array) -> tuple[Array, Array]:
        """(rate held within the grid, factor on years that leaving the grid costs)."""
        held = np.clip(rate, self.rates[0], self.rates[-1])
        if "distance" not in self.clocks:
            return held, np.ones_like(rate)
        with np.errstate(divide="ignore"):
            stretch = held / rate
        return held, stretch if "age" not in self.clocks else np.minimum(stretch, 1.0)

    def _wears(self, rate: Array) -> Array:
        """Distance's share of the wearing at the nearest point of the grid."""
        middles = np.sqrt(self.rates[1:] * self.rates[:-1])
        return np.asarray(np.nan_to_num(self.nodes["share"])[np.searchsorted(middles, rate)])

    def _interpolated(self, held: Array, stretch: Array) -> dict[str, Array]:
        after = np.clip(np.searchsorted(self.rates, held, side="right"), 1, len(self.rates) - 1)
        log_rates = np.log(self.rates)
        part = (np.log(held) - log_rates[after - 1]) / np.diff(log_rates)[after - 1]
        value = {}
        with np.errstate(divide="ignore", invalid="ignore"):
            for name in ("years", "risk", "low", "high", "cost", "run"):
                value[name] = np.exp(_between(np.log(self.nodes[name]), after, part))
            for name in ("saved", "reach", "chance"):
                value[name] = _between(self.nodes[name], after, part)
            for name in ("years", "risk", "low", "high"):
                value[name] = value[name] * stretch
            for name in ("cost", "run"):
                value[name] = value[name] / stretch
        return value


def interval_table(
    life: LifeOnClocks,
    costs: Costs,
    *,
    cap: Cap | None = None,
    max_risk: float | None = None,
    rates: ArrayLike | None = None,
    discount: float = 0.0,
) -> IntervalTable:
    """Tabulate the best interval over yearly distance (default: 32 points from 50 to 60,000 km a year).

    Raises:
        CostError: `rates` is not an ascending list of at least two positive distances, or as in `best_interval`.
    """
    grid = DEFAULT_RATES if rates is None else np.asarray(rates, dtype=np.float64)
    if (
        grid.ndim != 1
        or len(grid) < 2
        or not np.all(np.isfinite(grid))
        or grid[0] <= 0
        or np.any(np.diff(grid) <= 0)
    ):
        raise CostError("rates", "at least two ascending, positive yearly distances", rates)
    limit = NO_CAP if cap is None else cap
    rows = [node(life, costs, float(rate), limit, max_risk, discount_rate(discount)) for rate in grid]
    nodes = {name: np.array([row[name] for row in rows]) for name in COLUMNS}
    return IntervalTable(tuple(life.clocks), grid, costs.planned, limit, nodes)


def _shorter(own: IntervalColumns, usual: IntervalColumns) -> IntervalColumns:
    """Row by row the one that renews earlier; its own where both are alike."""
    held = usual.years < own.years
    return IntervalColumns(
        **{
            each.name: np.where(held, getattr(usual, each.name), getattr(own, each.name))
            for each in fields(own)
        }
    )


def _between(column: Array, after: NDArray[np.intp], part: Array) -> Array:
    low, high = column[after - 1], column[after]
    mixed = low + part * (high - low)
    return np.where(np.isinf(low) | np.isinf(high), np.maximum(low, high), mixed)


def _checked(km_per_year: ArrayLike) -> Array:
    rate = np.asarray(km_per_year, dtype=np.float64)
    if not np.all(np.isfinite(rate)) or np.any(rate < 0):
        raise UsageError("km_per_year", "yearly distances of 0 km or more", km_per_year)
    return rate


def _cap_years(cap: Cap, rate: Array) -> Array:
    limit = np.full(rate.shape, math.inf if cap.years is None else cap.years)
    return limit if cap.km is None else np.minimum(limit, cap.km / rate)


def _plain(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _filled(name: str, column: list[float | None]) -> Array:
    missing = math.nan if name in {"flip", "share"} else math.inf
    return np.array([missing if value is None else value for value in column], dtype=np.float64)
