"""One part's interval and due days on its own car: what is planned for the road ahead, the sale of the car, its own cap."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from api.bridge.car_interval import interval_of
from api.bridge.measured import OnPath, renewal
from planner.interval.held import held_to
from planner.interval.until_sold import until_sold
from planner.schedule import Driven, DueDates, InService, due_dates, rate_as_planned
from planner.units import DAYS_PER_YEAR
from planner.usage import PlannedUse, RoadAhead

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.bridge.clocks import Counted
    from api.bridge.models import InForce
    from planner.interval import Cap, Interval
    from planner.usage import Usage

FOR_SALE = "The car is to be sold by {day}: what does not pay off by then is left out, limits stay."


@dataclass(frozen=True)
class OwnCar:
    """What only this part on this car has.

    Attributes:
        sell_on: the day by which the car is to be sold, or None.
        path: where the part's own measurements put its limit, or None.
    """

    sell_on: date | None = None
    path: OnPath | None = None


def worked_out(
    since: Counted, usage: Usage, force: InForce, cap: Cap, its: OwnCar
) -> tuple[Interval, DueDates]:
    """The interval and the due days; a part found worn or failed is due since that day, whatever the statistics say.

    A safety part, and one that was measured, is planned as if its car stayed: a sale never lengthens its interval.

    Args:
        since: from when the part's clocks count.
        usage: how its car is driven, with what is planned.
        force: life, terms and table of its kind.
        cap: the hard caps in force for it.
        its: what only this part on this car has.
    """
    km, years = since.clocks_on(usage.as_of, usage.km_on(usage.as_of))
    rate = rate_as_planned(force.table, km=km, years=years, use=_driven(usage))
    interval = interval_of(force, rate)
    if its.path is not None:
        interval = renewal(its.path, interval, force, cap, since, usage)
    interval = held_to(interval, cap, planned=force.table.planned)
    if its.sell_on is not None and _planned_to_the_sale(its, usage.as_of, force):
        interval = _until(its.sell_on, interval, (km, years), usage, force, cap)
    due = due_dates(InService(since, since.age_unknown, since.km, force.life.clocks), usage, interval, cap)
    bad = since.found_bad
    if bad is not None:
        due = DueDates(bad, bad, bad, due.limit, due.decides, due.age_unknown)
    return interval, due


def sold_ahead(sell_on: date | None, as_of: date) -> bool:
    """Whether the sale of the car still lies ahead."""
    return sell_on is not None and sell_on > as_of


def _planned_to_the_sale(its: OwnCar, as_of: date, force: InForce) -> bool:
    return sold_ahead(its.sell_on, as_of) and its.path is None and not force.kind.safety


def road_ahead(plans: Sequence[PlannedUse] | Sequence[Sequence[Any]]) -> RoadAhead:
    """What is planned, from plans or from the three values that a forecast keeps of each."""
    return RoadAhead(
        tuple(
            one
            if isinstance(one, PlannedUse)
            else PlannedUse(date.fromisoformat(one[0]), date.fromisoformat(one[1]), one[2])
            for one in plans
        )
    )


def _until(
    day: date,
    interval: Interval,
    clocks: tuple[float, float],
    usage: Usage,
    force: InForce,
    cap: Cap,
) -> Interval:
    horizon = (day - usage.as_of).days / DAYS_PER_YEAR
    start, end = float(usage.as_of.toordinal()), float(day.toordinal())
    driven = float(usage.ahead.km_between(start, end, usage.km_per_year))
    found = until_sold(
        interval,
        force.table,
        force.life,
        force.terms.costs,
        horizon,
        km=clocks[0],
        years=clocks[1],
        km_per_year=driven / horizon,
        cap=cap,
        discount=force.terms.discount,
    )
    return held_to(found, cap, planned=force.table.planned)


def _driven(usage: Usage) -> Driven:
    return Driven(
        float(usage.as_of.toordinal()),
        usage.km_on(usage.as_of),
        usage.km_per_year,
        usage.low,
        usage.high,
        usage.ahead or None,
    )
