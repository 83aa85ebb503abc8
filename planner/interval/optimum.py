"""The best interval for one car: least cost over what is not known, never past a risk limit or a hard cap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.errors import CostError
from planner.interval.advice import BoundBy, Interval
from planner.interval.caps import NO_CAP, Cap
from planner.interval.checks import chance, number, yearly_distance
from planner.interval.cost_rate import CostCurve, cost_curve
from planner.interval.costs import Costs
from planner.interval.path import LifeOnClocks, distance_share, path_hazard
from planner.interval.search import cheapest, longest_within_risk, mean_cost, near_best
from planner.interval.wording import reason_in_words

Array = NDArray[np.float64]

WORTHWHILE = 0.02
"""Renewing early must save at least this share of running to failure, or it isn't worth the visit."""

WORN_AWAY = 0.05
"""An interval that fewer than this share of parts reach is running to failure by another name."""

_FLIP_RATIOS = np.geomspace(1.0, 1e4, 161)


@dataclass(frozen=True)
class Limits:
    """The latest that a risk limit and a hard cap allow, in years on the path; infinite where none is set."""

    risk: float = math.inf
    cap: float = math.inf

    @property
    def years(self) -> float:
        """The earlier of the two."""
        return min(self.risk, self.cap)

    @property
    def binding(self) -> BoundBy:
        """Which one comes first."""
        return "risk" if self.risk < self.cap else "cap"


def best_interval(
    life: LifeOnClocks,
    costs: Costs,
    km_per_year: float | None = None,
    max_risk: float | None = None,
    cap: Cap | None = None,
    plug_in: bool = False,
    discount: float = 0.0,
) -> Interval:
    """When to renew a part of this life on a car that covers `km_per_year`.

    The cost per year is averaged over the posterior draws (mean of ratios) and minimised globally. Running to
    failure is advised when the best interval saves less than 2 % of it, when fewer than 5 % of parts would reach
    the interval, or when a failure costs no more than planned work. A risk limit counts from fitting; a cap binds
    whatever the statistics say.

    Args:
        life: fitted or known life.
        costs: planned and failure cost, and the chance of a bad new part.
        km_per_year: the car's yearly distance; needed by a life on distance and by a cap in km.
        max_risk: the largest acceptable chance of failing between fitting and renewal.
        cap: the maker's or authority's limit.
        plug_in: use the estimate alone instead of the draws.
        discount: continuous discount rate per year; costs per year are then per discounted year of running.

    Raises:
        CostError: a risk limit that even a new part doesn't meet, a missing yearly distance, a bad discount, or costs or a cap
            that are none.
        InputError: no life, or one that ends within a second or not in thousands of millions of years.
        UsageError: the yearly distance is negative, above 10^9 km or not finite.
    """
    if not isinstance(costs, Costs):
        raise CostError("costs", "Costs", costs)
    rate = yearly_distance(km_per_year)
    hazard = path_hazard(life, rate, plug_in=plug_in)
    curve = cost_curve(hazard, new_part_fault=costs.new_part_fault, discount=discount_rate(discount))
    limits = limits_on_path(curve, max_risk, NO_CAP if cap is None else cap, rate)
    free = cheapest(curve, costs)
    years, bound_by = choose(curve, costs, limits, free)
    return _interval(life, curve, costs, (years, bound_by, limits, free), rate)


def discount_rate(discount: float) -> float:
    """A checked continuous discount rate per year.

    Raises:
        CostError: it is negative, above 1 or not finite.
    """
    wanted = "a yearly rate from 0 to 1, such as 0.03"
    if not 0.0 <= number("discount", discount, wanted) <= 1.0:
        raise CostError("discount", wanted, discount)
    return float(discount)


def limits_on_path(curve: CostCurve, max_risk: float | None, cap: Cap, km_per_year: float | None) -> Limits:
    """Where a risk limit and a cap fall on the car's path.

    Raises:
        CostError: a new part is already worse than `max_risk`, or a cap in km has no yearly distance.
    """
    if not isinstance(cap, Cap):
        raise CostError("cap", "a Cap or None", cap)
    cap_years = cap.years_on_path(km_per_year)
    if max_risk is None:
        return Limits(cap=cap_years)
    risk_years = longest_within_risk(curve, chance("max_risk", max_risk))
    if risk_years <= 0.0:
        wanted = f"more than the chance of a bad new part ({1.0 - curve.survives_fitting:g})"
        raise CostError("max_risk", wanted, max_risk)
    return Limits(risk_years, cap_years)


def latest_allowed(
    life: LifeOnClocks, costs: Costs, km_per_year: float | None, max_risk: float | None, cap: Cap
) -> Limits:
    """The latest that a risk limit and a cap allow a new part of this life on a car that covers `km_per_year`.

    Raises:
        CostError: as `best_interval`.
        UsageError: the yearly distance is negative or not finite.
    """
    rate = yearly_distance(km_per_year)
    if max_risk is None:
        return Limits(cap=cap.years_on_path(rate))
    curve = cost_curve(path_hazard(life, rate), new_part_fault=costs.new_part_fault)
    return limits_on_path(curve, max_risk, cap, rate)


def choose(curve: CostCurve, costs: Costs, limits: Limits, free: float) -> tuple[float, BoundBy]:
    """(years, what decided): the interval by cost, cut by the limits; infinite years for run to failure.

    Args:
        curve: rates on the path.
        costs: planned and failure cost.
        limits: of risk and cap.
        free: the cheapest interval of all (`cheapest`), which several answers start from.
    """
    if better_run_to_failure(curve, costs, free):
        return (limits.years, limits.binding) if math.isfinite(limits.years) else (math.inf, "run to failure")
    years = free if free < limits.years else cheapest(curve, costs, limits.years)
    return (years, limits.binding) if years >= limits.years else (years, "cost")


def better_run_to_failure(curve: CostCurve, costs: Costs, free: float) -> bool:
    """Whether renewing early, with no limit in the way, is not worth while; `free` is the cheapest interval."""
    if not curve.ends or costs.failure == costs.planned:
        return True
    if math.isinf(free):
        return True
    rates = curve.at(np.array([free]))
    saved = 1.0 - float(rates.cost(costs.planned, costs.failure)[0]) / (costs.failure * curve.failures_if_run)
    return saved < WORTHWHILE or float(rates.survival[0]) < WORN_AWAY


def flip_cost(curve: CostCurve, costs: Costs, free: float) -> float | None:
    """The failure cost nearest to the present one at which renewing and running to failure change places.

    The planned cost stays; to about 6 % of the failure cost. None if no failure cost up to 10,000 planned
    renewals changes the advice.
    """
    if not curve.ends:
        return None
    trial = costs.planned * _FLIP_RATIOS
    mean = costs.planned * curve.rates.planned + trial[:, None] * curve.rates.failures
    best = np.argmin(mean, axis=1)
    saved = 1.0 - mean[np.arange(len(trial)), best] / (trial * curve.failures_if_run)
    runs = (saved < WORTHWHILE) | (curve.rates.survival[best] < WORN_AWAY)
    changes = np.flatnonzero(runs[1:] != runs[:-1])
    if not len(changes):
        return None
    points = np.sqrt(trial[changes] * trial[changes + 1])
    now = better_run_to_failure(curve, costs, free)
    ahead = points[points >= costs.failure] if now else points[points <= costs.failure]
    if not len(ahead):
        return None
    return float(ahead[0] if now else ahead[-1])


def _interval(
    life: LifeOnClocks,
    curve: CostCurve,
    costs: Costs,
    choice: tuple[float, BoundBy, Limits, float],
    km_per_year: float | None,
) -> Interval:
    years, bound_by, limits, free = choice
    run_cost = costs.failure * curve.failures_if_run
    endless = math.isinf(years)
    at = np.array([years])
    share = (
        None
        if not curve.ends
        else distance_share(life, km_per_year, middle_of_life(curve) if endless else years)
    )
    fields = Interval(
        km=_km_at(years, km_per_year),
        years=years,
        cost_per_year=run_cost if endless else float(mean_cost(curve, costs, at)[0]),
        cost_run_to_failure=run_cost,
        run_to_failure=endless,
        bound_by=bound_by,
        within_5_percent=near_best(curve, costs, years, limits.years),
        reason="",
        km_per_year=km_per_year,
        chance_by_then=1.0 if endless else 1.0 - float(curve.mean_survival(at)[0]),
        flips_at_failure_cost=flip_cost(curve, costs, free)
        if bound_by in {"cost", "run to failure"}
        else None,
        wears_most=None if share is None else ("distance" if share > 0.5 else "age"),
    )
    return reason_in_words(fields, life.clocks)


def middle_of_life(curve: CostCurve) -> float:
    """The interval on the grid that about half of the parts reach, for saying which clock wears most."""
    return float(curve.years[int(np.argmin(np.abs(curve.rates.survival - 0.5)))])


def _km_at(years: float, km_per_year: float | None) -> float | None:
    if math.isinf(years):
        return None if km_per_year is None else math.inf
    return km_per_year * years if km_per_year else None
