"""One part's interval and due days on its own car: what is planned for the road ahead, the sale of the car, its own cap."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple

from api.bridge.forecasts.car_interval import interval_of
from api.bridge.forecasts.clocks import UNREPAIRED
from api.bridge.forecasts.measured import OnPath, renewal
from planner.interval import Cap
from planner.interval.held import held_to
from planner.interval.optimum import latest_allowed
from planner.interval.until_sold import until_sold
from planner.schedule import Driven, DueDates, InService, due_dates, rate_as_planned
from planner.units import DAYS_PER_YEAR
from planner.usage import PlannedUse, RoadAhead

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.bridge.forecasts.clocks import Counted
    from api.bridge.in_force.models import InForce
    from planner.interval import Interval
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


class WorkedOut(NamedTuple):
    """What is worked out for one part.

    Attributes:
        interval: the part's own.
        due: its due days.
        new: the interval of a new part on the same car's path.
    """

    interval: Interval
    due: DueDates
    new: Interval


def worked_out(since: Counted, usage: Usage, force: InForce, cap: Cap, its: OwnCar) -> WorkedOut:
    """The interval and the due days; a part found worn or failed is due since that day, whatever the statistics say.

    A safety part, and one that was measured, is planned as if its car stayed: a sale never lengthens its interval. What
    repairs have taken off puts off what cost decided, never a limit; the interval stays that of a part never repaired.

    Args:
        since: from when the part's clocks count.
        usage: how its car is driven, with what is planned.
        force: life, terms and table of its kind.
        cap: the hard caps in force for it.
        its: what only this part on this car has.
    """
    plain = _as_old_as_it_is(since, usage, force, cap, its)
    if since.set_back == UNREPAIRED or its.path is not None or plain.interval.bound_by != "cost":
        return plain
    worn_cap = _counted_less(cap, since.set_back)
    if worn_cap is None:
        return plain
    worn = since.less_worn
    longer = _as_old_as_it_is(worn, usage, force, worn_cap, its).interval
    held = _within_risk(longer, plain.interval, since.set_back, force)
    if held is None:
        return plain
    due = _dates(worn, usage, held, worn_cap, force)
    return plain._replace(due=_not_after(due, plain.due.limit))


def _as_old_as_it_is(since: Counted, usage: Usage, force: InForce, cap: Cap, its: OwnCar) -> WorkedOut:
    """The interval and the due days of a part whose wear counts from its fitting."""
    km, years = since.clocks_on(usage.as_of, usage.km_on(usage.as_of))
    rate = rate_as_planned(force.table, km=km, years=years, use=_driven(usage))
    new = interval_of(force, rate)
    interval = new if its.path is None else renewal(its.path, new, force, cap, since, usage)
    interval = held_to(interval, cap, planned=force.table.planned)
    if its.sell_on is not None and _planned_to_the_sale(its, usage.as_of, force):
        interval = _until(its.sell_on, interval, (km, years), usage, force, cap)
    new = held_to(new, cap, planned=force.table.planned)
    return WorkedOut(interval, _dates(since, usage, interval, cap, force), new)


def _dates(since: Counted, usage: Usage, interval: Interval, cap: Cap, force: InForce) -> DueDates:
    due = due_dates(InService(since, since.age_unknown, since.km, force.life.clocks), usage, interval, cap)
    bad = since.found_bad
    return due if bad is None else DueDates(bad, bad, bad, due.limit, due.decides, due.age_unknown)


def _counted_less(cap: Cap, back: tuple[float, float]) -> Cap | None:
    """The cap on clocks that repairs have set back, so that its day stays; None where it was passed before the repair."""
    km, years = (
        None if most is None else most - off for most, off in ((cap.km, back[0]), (cap.years, back[1]))
    )
    passed = (km is not None and km <= 0) or (years is not None and years <= 0)
    return None if passed else Cap(km, years)


def _not_after(due: DueDates, limit: date | None) -> DueDates:
    """The same with the limit's own day, from which whole days added for repairs may have strayed."""
    if limit is None:
        return due
    earliest, likely, latest = (
        limit if day is None else min(day, limit) for day in (due.earliest, due.likely, due.latest)
    )
    return replace(due, earliest=earliest, likely=likely, latest=latest, limit=limit)


def _within_risk(
    longer: Interval, plain: Interval, back: tuple[float, float], force: InForce
) -> Interval | None:
    """What repairs have made longer, cut where the risk limit falls on the part's path from its fitting: no repair moves it.

    None where that was passed before the repair.

    Args:
        longer: the interval on clocks set back.
        plain: the interval on the clocks as they are.
        back: km and years that repairs have taken off.
        force: what is in force.
    """
    terms, rate = force.terms, plain.km_per_year
    limit = latest_allowed(force.life, terms.costs, rate, terms.max_risk, Cap()).years
    years = limit - back[1]
    km = None if not rate else rate * limit - back[0]
    if years <= 0.0 or (km is not None and km <= 0.0):
        return None
    far = longer.km if force.life.clocks == ("distance",) else None
    past = years < longer.years if km is None or far is None else km < far
    if past:
        low = min(longer.within_5_percent[0], years)
        return replace(longer, km=km, years=years, bound_by="risk", within_5_percent=(low, years))
    return longer


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
        force.life,
        force.terms.costs,
        horizon,
        km=clocks[0],
        years=clocks[1],
        km_per_year=driven / horizon,
        cap=cap,
        max_risk=force.terms.max_risk,
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
