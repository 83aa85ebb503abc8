"""Parts that came off without a word: another of the kind was fitted in their place, and no removal is on record."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING

from planner.history.dates import FIRST_MOTOR_CAR, UncertainDate
from planner.history.timeline import ROUGH_DAY_YEARS

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from planner.history.part_history import PartHistory

A_DAY = timedelta(days=1)

_Place = tuple[str, str, str]


def with_successors(histories: Iterable[PartHistory]) -> list[PartHistory]:
    """The same histories; those without a removal get the day on which the next was fitted in their place.

    A place is a car, a kind and a position. Where its records show two parts there at a time (a set fitted on one day, one seen or
    taken off after another was fitted), or days too rough to tell the order, nothing is concluded.

    Args:
        histories: parts of one car or of many, of any kinds.
    """
    parts = list(histories)
    places: dict[_Place, list[PartHistory]] = {}
    for part in parts:
        places.setdefault(_place(part), []).append(part)
    following = {place: _in_order(here) for place, here in places.items() if len(here) > 1}
    return [_followed(part, following.get(_place(part), [])) for part in parts]


def _in_order(here: list[PartHistory]) -> list[UncertainDate]:
    """The days of fitting in one place, in order; none where they don't surely follow each other, one part at a time."""
    ordered = sorted(here, key=lambda part: _first_day(part).likely)
    days = [_first_day(part) for part in ordered]
    for number, part in enumerate(ordered[:-1]):
        following = days[number + 1]
        if following.width_years >= ROUGH_DAY_YEARS or not _surely_there(part) < following.earliest:
            return []
    return days


def _followed(part: PartHistory, days: list[UncertainDate]) -> PartHistory:
    own = _first_day(part)
    later = [day for day in days if day.likely > own.likely]
    return part if part.removal is not None or not later else replace(part, next_fitted=later[0])


def _first_day(part: PartHistory) -> UncertainDate:
    """When a part was fitted; one of which nothing was written was there when its car joined, or always."""
    there = UncertainDate.on(part.vehicle.joined_on or FIRST_MOTOR_CAR)
    return part.fitment.fitted_on or there


def _surely_there(part: PartHistory) -> date:
    """The last day on which a part can have been fitted, or on which it was surely still there."""
    seen = [look.inspected_on for look in part.inspections] + [one.repaired_on for one in part.repairs]
    gone = [] if part.removal is None else [part.removal.removed_on.earliest - A_DAY]
    return max([_first_day(part).latest, *seen, *gone])


def _place(part: PartHistory) -> _Place:
    position = part.fitment.position or ""
    return part.vehicle.ref, part.fitment.kind, " ".join(position.split()).casefold()
