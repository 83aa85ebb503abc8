"""What a forecast keeps so that a read needs arithmetic only."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Self

from api.bridge.forecasts.clocks import Counted
from api.bridge.forecasts.one_part import road_ahead
from planner.interval import Cap
from planner.interval.optimum import latest_allowed
from planner.units import DAYS_PER_YEAR
from planner.usage import NOTHING_PLANNED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from api.bridge.forecasts.measured import OnPath
    from api.bridge.forecasts.one_part import WorkedOut
    from api.bridge.in_force.models import InForce
    from planner.usage import RoadAhead, Usage

_NOT_PLAIN = ("since", "limit", "ahead", "sell_on")


@dataclass(frozen=True)
class Coefficients:
    """Everything of a forecast beside its due days.

    Attributes:
        since: from when and from which odometer the part's clocks count.
        odometer_km: the car's true distance on the forecast's day.
        km_per_year: the car's yearly distance.
        km_per_year_range: its 10 % and 90 % points.
        unit: the keeper's, in which the reason was written.
        limit: the day of the hard cap, or None.
        interval_km, interval_years: the interval from fitting; None: run to failure, or the car stands.
        bound_by: what decided the interval: "cost", "risk", "cap" or "run to failure".
        cost_per_year, cost_run_to_failure: expected costs of the advice and of doing without.
        planned, failure: costs that went in.
        own_costs: True where the fleet gave them.
        new_part_fault: chance that a new part is bad.
        cap_km, cap_years: the hard cap in force; None: none known.
        table: fingerprint of the terms that the interval rests on.
        measured: where the part's own measurements put its limit, as `api.bridge.forecasts.measured.OnPath`; None: never measured.
        ahead: tours and lay-ups ahead of the forecast's day.
        sell_on: the day by which the car is to be sold, or None.
        own: of an interval that is not the table's (of a measured part, or a car with a life of its own): "within", the years
            within 5 % of the best cost; "risk", the years that the risk limit allows from fitting; "flips", the failure cost at which the advice would flip; "new", the (low, best, high)
            years of a new part on the same car; None: the table has them.
    """

    since: Counted
    odometer_km: float
    km_per_year: float
    km_per_year_range: tuple[float, float]
    unit: str
    limit: date | None
    interval_km: float | None
    interval_years: float | None
    bound_by: str
    cost_per_year: float
    cost_run_to_failure: float
    planned: float
    failure: float
    own_costs: bool
    new_part_fault: float
    cap_km: float | None
    cap_years: float | None
    table: str
    measured: dict[str, Any] | None = None
    ahead: RoadAhead = NOTHING_PLANNED
    sell_on: date | None = None
    own: dict[str, Any] | None = None

    @classmethod
    def of(
        cls,
        since: Counted,
        usage: Usage,
        found: WorkedOut,
        force: InForce,
        cap: Cap,
        unit: str,
        measured: OnPath | None = None,
        sell_on: date | None = None,
    ) -> Self:
        """Collect them from what was worked out."""
        costs, interval = force.terms.costs, found.interval
        by_table = measured is None and force.own_car is None
        return cls(
            since=since,
            odometer_km=usage.km_on(usage.as_of),
            km_per_year=usage.km_per_year,
            km_per_year_range=(usage.low, usage.high),
            unit=unit,
            limit=found.due.limit,
            interval_km=_finite(interval.km),
            interval_years=_finite(interval.years),
            bound_by=interval.bound_by,
            cost_per_year=interval.cost_per_year,
            cost_run_to_failure=interval.cost_run_to_failure,
            planned=costs.planned,
            failure=costs.failure,
            own_costs=force.terms.own_costs,
            new_part_fault=costs.new_part_fault,
            cap_km=cap.km,
            cap_years=cap.years,
            table=force.terms.fingerprint,
            measured=None if measured is None else measured.to_json(),
            ahead=usage.ahead,
            sell_on=sell_on,
            own=None if by_table else _own(found, force),
        )

    def to_json(self) -> dict[str, Any]:
        """As the row stores it."""
        plain = {name: value for name, value in vars(self).items() if name not in _NOT_PLAIN}
        limit = None if self.limit is None else self.limit.isoformat()
        sell_on = None if self.sell_on is None else self.sell_on.isoformat()
        plans = [[one.starts_on.isoformat(), one.ends_on.isoformat(), one.km] for one in self.ahead.plans]
        return {**plain, "since": self.since.to_json(), "limit": limit, "ahead": plans, "sell_on": sell_on}

    @classmethod
    def from_json(cls, content: Mapping[str, Any]) -> Self:
        """What `to_json` wrote."""
        limit, sell_on = content["limit"], content.get("sell_on")
        read = {
            "since": Counted.from_json(content["since"]),
            "limit": None if limit is None else date.fromisoformat(limit),
            "km_per_year_range": tuple(content["km_per_year_range"]),
            "ahead": road_ahead(content.get("ahead", ())),
            "sell_on": None if sell_on is None else date.fromisoformat(sell_on),
        }
        return cls(**{**content, **read})

    def rests_on(
        self,
        since: Counted,
        usage: Usage,
        force: InForce,
        cap: Cap,
        unit: str,
        mark: list[Any] | None = None,
        sell_on: date | None = None,
    ) -> bool:
        """Whether the forecast was made from just these, so that making it again would change nothing."""
        return (
            self.since == since
            and (None if self.measured is None else self.measured["mark"]) == mark
            and self.odometer_km == usage.km_on(usage.as_of)
            and self.km_per_year == usage.km_per_year
            and self.km_per_year_range == (usage.low, usage.high)
            and self.unit == unit
            and self.table == force.terms.fingerprint
            and (self.cap_km, self.cap_years) == (cap.km, cap.years)
            and (self.ahead, self.sell_on) == (usage.ahead, sell_on)
        )

    @property
    def own_risk_limit(self) -> float:
        """Years from fitting that the risk limit allows a part with an interval of its own; infinite without one."""
        risk = None if self.own is None else self.own["risk"]
        return math.inf if risk is None else float(risk)

    def clocks_on(self, day: date, forecast_day: date) -> tuple[float, float]:
        """The part's distance in km and age in years on a day, the car driven as it is now."""
        return self.since.clocks_on(day, self.odometer_on(day, forecast_day))

    def odometer_on(self, day: date, forecast_day: date) -> float:
        """The car's true distance in km on a day, driven as it is now and as is planned."""
        if not self.ahead:
            return self.odometer_km + self.km_per_year * (day - forecast_day).days / DAYS_PER_YEAR
        start, end = float(forecast_day.toordinal()), float(day.toordinal())
        return self.odometer_km + float(self.ahead.km_between(start, end, self.km_per_year))

    def km_between(self, days: tuple[date, date], forecast_day: date) -> float:
        """What the car covers between two days in km."""
        if not self.ahead:
            return self.km_per_year * ((days[1] - days[0]).days / DAYS_PER_YEAR)
        return self.odometer_on(days[1], forecast_day) - self.odometer_on(days[0], forecast_day)


def _own(found: WorkedOut, force: InForce) -> dict[str, Any]:
    interval, new, terms = found.interval, found.new, force.terms
    allowed = latest_allowed(force.life, terms.costs, interval.km_per_year, terms.max_risk, Cap())
    return {
        "risk": _finite(allowed.years),
        "within": [_finite(year) for year in interval.within_5_percent],
        "flips": interval.flips_at_failure_cost,
        "new": [_finite(year) for year in (new.within_5_percent[0], new.years, new.within_5_percent[1])],
    }


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else value
