"""Plain values that the schedule's tests give where the real ones need records."""

from dataclasses import dataclass
from datetime import date

from planner.interval import Interval
from planner.usage import NOTHING_PLANNED, RoadAhead


@dataclass(frozen=True)
class Days:
    """Days of fitting."""

    earliest: date
    likely: date
    latest: date

    @classmethod
    def on(cls, day):
        return cls(day, day, day)


@dataclass(frozen=True)
class Use:
    """What the schedule reads of a car's use."""

    km_per_year: float
    low: float
    high: float
    as_of: date
    km_at_as_of: float
    basis: str = "test"
    ahead: RoadAhead = NOTHING_PLANNED


def steady(rate, as_of, km):
    return Use(rate, rate, rate, as_of, km)


def interval(years, rate, *, slack=(0.7, 1.4), bound_by="cost", wears_most="age"):
    finite = years != float("inf")
    return Interval(
        km=rate * years if rate and finite else (None if finite else float("inf")),
        years=years,
        cost_per_year=10.0,
        cost_run_to_failure=20.0,
        run_to_failure=bound_by == "run to failure",
        bound_by=bound_by,
        within_5_percent=(slack[0] * years, slack[1] * years),
        reason="",
        km_per_year=rate,
        wears_most=wears_most,
    )
