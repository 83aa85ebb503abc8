"""A car's plan to a horizon: every renewal with its window, the next ones grouped into visits."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import UsageError
from planner.interval import Cap, Costs, Interval, cost_of_waiting
from planner.schedule.brought_forward import worth
from planner.schedule.due import DueDates, DueWindow, InService, due_dates
from planner.schedule.opening import WEEK, Season, open_weeks, weeks_from
from planner.schedule.snooze import Snooze, Snoozed, put_off
from planner.schedule.unfit import could_not_fit
from planner.schedule.visits import VisitPlan, group_visits
from planner.schedule.work import Work, Workshop
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.interval.path import LifeOnClocks
    from planner.usage import Usage

Array = NDArray[np.float64]

LONGEST_YEARS = 10.0
"""A plan looks no further ahead; beyond it nobody knows how the car will be used."""


@dataclass(frozen=True, eq=False)
class PlannedPart:
    """All that a plan needs of one part in service.

    Attributes:
        name: what the caller knows it by.
        service: when it was fitted and on which clocks it runs.
        km, years: its clocks today.
        life, costs, interval: of its kind; the interval at its own path, its cost per year that of the successor.
        cap, max_risk: limits from fitting.
        safety: never left out.
        access_group, access_cost: labour shared with others behind the same access.
        hours, money: of the job itself.
        together: name of the set it belongs to (both banks, an axle).
        snooze: the keeper's decision, if any.
        survived_counts: weight the draws of its life by their chance of coming so far; where its spell is not in the fit.
        dates: its due days where they are known already; None: worked out from the interval.
        successor: (low, best, high) years of a new part after it, where that is another interval than its own.
    """

    name: str
    service: InService
    km: float
    years: float
    life: LifeOnClocks
    costs: Costs
    interval: Interval
    cap: Cap = field(default_factory=Cap)
    max_risk: float | None = None
    safety: bool = False
    access_group: str = ""
    access_cost: float = 0.0
    hours: float = 0.0
    money: float = 0.0
    together: str = ""
    snooze: Snooze | None = None
    survived_counts: bool = False
    dates: DueDates | None = None
    successor: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class PlannedRenewal:
    """One renewal of one part within the horizon.

    Attributes:
        name: the part.
        number: 1 for the part in service now, 2 for its successor, and so on.
        window: earliest, likely and latest.
        accepted: the keeper's reason for putting it off, shown as accepted risk.
        warning: a limit in the way of putting it off.
    """

    name: str
    number: int
    window: DueWindow
    accepted: str = ""
    warning: str = ""


@dataclass(frozen=True)
class DatedVisit:
    """One visit on a week: the day it begins on, what is done, and what it costs beside the parts."""

    week_of: date
    jobs: tuple[str, ...]
    cost: float


@dataclass(frozen=True)
class CarPlan:
    """What to do to a car, and what not to.

    Attributes:
        renewals: in the order of their likely days.
        visits: the next renewals of all parts due within `visits_within` years, grouped.
        grouping: the grouping itself: what it saves, whether it is exact, what did not fit.
        leave_alone: (part, reason) for what needs nothing within the horizon.
        could_not_fit: (part, what is in the way), safety parts first; nothing is dropped silently.
    """

    renewals: tuple[PlannedRenewal, ...]
    visits: tuple[DatedVisit, ...]
    grouping: VisitPlan
    leave_alone: tuple[tuple[str, str], ...]
    could_not_fit: tuple[tuple[str, str], ...] = ()


def plan_car(
    parts: Sequence[PlannedPart],
    usage: Usage,
    today: date,
    workshop: Workshop,
    *,
    horizon_years: float = 5.0,
    visits_within: float = 2.0,
    closed: Mapping[date, bool] | None = None,
    open_months: Sequence[int] = tuple(range(1, 13)),
    season: Season | None = None,
) -> CarPlan:
    """Plan a car from today.

    Successors follow at their kind's interval, likely day after likely day, the window widening with each. Only
    renewals due within `visits_within` years are placed in visits, to the week.

    Args:
        parts: the car's parts in service.
        usage: how it is driven.
        today: the day of the plan.
        workshop: set-up, gap between visits in weeks, hours and money per visit. Its open days are set here.
        horizon_years: how far to look, above 0 and up to ten.
        visits_within: how far to place visits, at most the horizon.
        closed: days on which the workshop is shut (True); a week is open if any of its days is.
        open_months: months, 1 to 12, in which visits may fall.
        season: the driving season, which is kept free of visits: its work is done before the first drive.

    Raises:
        UsageError: a horizon or month that makes no sense.
    """
    _check_horizon(horizon_years, visits_within, open_months)
    end = today + timedelta(days=round(horizon_years * DAYS_PER_YEAR))
    renewals: list[PlannedRenewal] = []
    leave: list[tuple[str, str]] = []
    for part in parts:
        found = _renewals(part, usage, today, end)
        renewals += [renewal for renewal in found if _within(renewal.window, end)]
        if not found or not _within(found[0].window, end):
            leave.append((part.name, _first_window(part, usage, today).window.reason))
    renewals.sort(key=lambda renewal: (renewal.window.likely or date.max, renewal.name))
    begins = weeks_from(today, visits_within)
    grouping, visits = _visits(
        parts, usage, begins, workshop, open_weeks(begins, closed or {}, open_months, season)
    )
    limits = {part.name: _first_window(part, usage, today).window.limit for part in parts}
    unfit = could_not_fit(grouping, {part.name: part.safety for part in parts}, limits, workshop.least_gap)
    return CarPlan(tuple(renewals), visits, grouping, tuple(leave), unfit)


def _renewals(part: PlannedPart, usage: Usage, today: date, end: date) -> list[PlannedRenewal]:
    first = _first_window(part, usage, today)
    found = [PlannedRenewal(part.name, 1, first.window, first.accepted, first.warning)]
    own = part.interval
    low, years, high = part.successor or (own.within_5_percent[0], own.years, own.within_5_percent[1])
    last = first.window
    while last.likely is not None and last.likely <= end and math.isfinite(years) and len(found) < 200:
        last = DueWindow(
            earliest=_after(last.earliest, low),
            likely=_after(last.likely, years),
            latest=_after(last.latest, high),
            decides=last.decides,
            status="later",
            reason="As the part before it, at the interval of its kind.",
        )
        found.append(PlannedRenewal(part.name, len(found) + 1, last))
    return found


def _first_window(part: PlannedPart, usage: Usage, today: date) -> Snoozed:
    dates = part.dates or due_dates(part.service, usage, part.interval, part.cap)
    window = dates.as_of(today)
    return Snoozed(window, "", "") if part.snooze is None else put_off(window, part.snooze, today)


def _visits(
    parts: Sequence[PlannedPart],
    usage: Usage,
    begins: Sequence[date],
    workshop: Workshop,
    open_days: Sequence[bool],
) -> tuple[VisitPlan, tuple[DatedVisit, ...]]:
    today, end = begins[0], begins[-1]
    first = [(part, _first_window(part, usage, today).window) for part in parts]
    open_work = [(part, window) for part, window in first if not _declined(part)]
    sets = {part.together for part, window in open_work if part.together and _within(window, end)}
    due = [(part, window) for part, window in open_work if _within(window, end) or part.together in sets]
    waits: Array = np.arange(len(begins), dtype=np.float64) * (WEEK / DAYS_PER_YEAR)
    jobs = [
        _job(part, usage, waits, _allowed(part, window, begins), worth(part, usage, window, today))
        for part, window in due
    ]
    rules = replace(workshop, open_days=np.array(open_days))
    grouping = group_visits(jobs, rules)
    return grouping, tuple(DatedVisit(begins[visit.day], visit.jobs, visit.cost) for visit in grouping.visits)


def _declined(part: PlannedPart) -> bool:
    return part.snooze is not None and part.snooze.until is None


def _allowed(part: PlannedPart, window: DueWindow, begins: Sequence[date]) -> NDArray[np.bool_]:
    """The weeks that neither pass a limit (the first one if it is past) nor come before the keeper's day."""
    last = begins[-1] if window.limit is None else max(window.limit, begins[0])
    if window.decides == "risk limit" and window.likely is not None:
        last = min(last, max(window.likely, begins[0]))
    snooze = part.snooze
    first = begins[0] if snooze is None or snooze.until is None else min(snooze.until, last)
    allowed = np.array([begin <= last and begin + timedelta(days=WEEK) > first for begin in begins])
    return allowed if allowed.any() else np.arange(len(begins)) == 0


def _job(part: PlannedPart, usage: Usage, waits: Array, allowed: NDArray[np.bool_], a_year: float) -> Work:
    rate = max(usage.high, usage.km_per_year) if part.cap.km is not None else usage.km_per_year
    penalty = cost_of_waiting(
        part.life,
        part.costs,
        a_year,
        waits,
        km=part.km,
        years=part.years,
        km_per_year=rate,
        max_risk=part.max_risk,
        cap=part.cap,
        survived_counts=part.survived_counts,
    )
    penalty = np.where(allowed, penalty, np.inf)
    if not np.isfinite(penalty).any():
        penalty = np.where(np.arange(len(waits)) == 0, 0.0, np.inf)
    return Work(
        part.name, penalty, part.access_group, part.access_cost, part.hours, part.money, part.safety, part.together
    )  # fmt: skip


def _within(window: DueWindow, end: date) -> bool:
    return window.likely is not None and window.likely <= end


def _after(day: date | None, years: float) -> date | None:
    if day is None or not math.isfinite(years):
        return None
    ordinal = day.toordinal() + math.floor(years * DAYS_PER_YEAR)
    return date.fromordinal(min(ordinal, date.max.toordinal()))


def _check_horizon(horizon: float, within: float, months: Sequence[int]) -> None:
    if not 0 < horizon <= LONGEST_YEARS:
        raise UsageError("horizon_years", f"above 0 and up to {LONGEST_YEARS:g} years", horizon)
    if not 0 < within <= horizon:
        raise UsageError("visits_within", "above 0 and up to the horizon", within)
    if not months or not set(months) <= set(range(1, 13)):
        raise UsageError("open_months", "months from 1 to 12", months)
