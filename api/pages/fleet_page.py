"""The fleet's page: what is due, by week for the coming weeks and by month after them; and the list of cars."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from api.conventions import page_of
from api.faults.bans import MOST, bans
from api.pages import store as counts
from api.pages.links import asked_for, next_page
from api.pages.rendering import day, month
from api.schedules import answers, store
from api.vehicles.store import vehicles_of
from planner.figures import Picture, weeks_ahead

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fastapi import Request
    from sqlmodel import Session

    from api.schedules.schemas import DueItem
    from api.security import Principal

HORIZONS = (91, 182, 364)
WEEKS_BY_WEEK = 6
ON_A_PAGE = 30
CARS_AT_ONCE = 6
MOST_CARS = 50
PUT_OFF = "Put off by the keeper"


@dataclass
class Group:
    """Parts that come due in the same stretch of time."""

    title: str
    items: list[DueItem] = field(default_factory=list)


def due(
    session: Session, who: Principal, request: Request, as_of: date, within_days: int, cursor: str | None
) -> dict[str, Any]:
    """What the page of due work shows."""
    last = as_of + timedelta(days=within_days)
    asked = asked_for(request, cursor, ON_A_PAGE)
    rows = page_of(session, store.due_until(who.fleet_id, last), asked)
    by_day = counts.due_by_day(session, who.fleet_id, last)
    with_work = counts.due_by_car(session, who.fleet_id, as_of, MOST_CARS + 1)
    return {
        "as_of": as_of,
        "with_work": with_work[:MOST_CARS],
        "cars_at_once": CARS_AT_ONCE,
        "more_cars": len(with_work) > MOST_CARS,
        "decided": counts.decided(session, who.fleet_id, as_of),
        "bans": bans(session, who.fleet_id, most=MOST),
        "groups": groups(answers.items(session, who, rows, as_of), as_of),
        "due_now": sum(n for when, n in by_day if when <= as_of),
        "due_ahead": sum(n for when, n in by_day if when > as_of),
        "within_days": within_days,
        "horizons": HORIZONS,
        "next_page": next_page(asked),
        "picture": _weeks(by_day, as_of, within_days),
    }


def weeks(session: Session, who: Principal, as_of: date, within_days: int) -> Picture:
    """The picture of the weeks ahead."""
    last = as_of + timedelta(days=within_days)
    return _weeks(counts.due_by_day(session, who.fleet_id, last), as_of, within_days)


def cars(session: Session, who: Principal, request: Request, cursor: str | None) -> dict[str, Any]:
    """What the list of cars shows."""
    asked = asked_for(request, cursor, ON_A_PAGE)
    rows = page_of(session, vehicles_of(who.fleet_id), asked)
    return {"cars": rows, "next_page": next_page(asked)}


def groups(items: Sequence[DueItem], as_of: date) -> list[Group]:
    """Items, in their order, by the week or month of their likely day; those whose day was put off stand last."""
    found: dict[str, Group] = {}
    for item in items:
        title = _title(item, as_of)
        found.setdefault(title, Group(title)).items.append(item)
    return sorted(found.values(), key=lambda group: group.title == PUT_OFF)


def _title(item: DueItem, as_of: date) -> str:
    likely = item.window.likely
    if item.put_off is not None and item.put_off.until is not None and item.status != "due now":
        return PUT_OFF
    return "Run to failure" if likely is None else _stretch(likely, as_of)


def _stretch(likely: date, as_of: date) -> str:
    if likely <= as_of:
        return "Due now"
    monday = likely - timedelta(days=likely.weekday())
    this_monday = as_of - timedelta(days=as_of.weekday())
    if monday == this_monday:
        return "This week"
    if monday < this_monday + timedelta(weeks=WEEKS_BY_WEEK):
        return f"Week of {day(monday)}"
    return month(likely)


def _weeks(by_day: Sequence[tuple[date, int]], as_of: date, within_days: int) -> Picture:
    first = as_of - timedelta(days=as_of.weekday())
    counted = [0] * (1 + within_days // 7)
    for when, number in by_day:
        week = (when - first).days // 7
        if when > as_of and week < len(counted):
            counted[week] += number
    return weeks_ahead(counted, first=first, due_before=sum(n for when, n in by_day if when <= as_of))
