"""Parts to order: how many of each kind in each month, how many are enough, by when, and what not to lay in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import InputError
from planner.risk.counts import CountLaw, count_law
from planner.risk.months import month_ends, month_of
from planner.risk.shelf import shelf_warning

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

Array = NDArray[np.float64]

LEAD_DAYS = 14
"""From order to bench, where the caller knows nothing better (judgement)."""


@dataclass(frozen=True, eq=False)
class InUse:
    """One part in service, as ordering sees it.

    Attributes:
        name: what the caller knows it by.
        kind: its kind; parts of one kind share the draws of their life.
        fails: chance of having failed by the end of each month, given good now; shape (draws, months), rising.
        planned_on: day of its planned renewal; a day past is due now; None for run to failure.
        together: name of the set it is renewed with (both banks, an axle); empty for none. If one of a set fails or
            comes due, all of it is wanted.
        new_part_fault: chance that the part which replaces it is bad, so that another is wanted.
    """

    name: str
    kind: str
    fails: Array
    planned_on: date | None = None
    together: str = ""
    new_part_fault: float = 0.0


@dataclass(frozen=True)
class MonthNeed:
    """Parts of one kind wanted in one month.

    Attributes:
        month: its first day.
        planned: how many stand in the plan.
        expected: mean number wanted, failures included.
        enough: number that is enough with the chance asked for.
        needed_by: day of the first planned renewal in the month; None where only failures are expected.
        order_by: so much earlier as delivery takes, today at the earliest; None likewise.
        late: delivery takes longer than there is time.
    """

    month: date
    planned: int
    expected: float
    enough: int
    needed_by: date | None
    order_by: date | None
    late: bool


@dataclass(frozen=True)
class KindOrder:
    """What will be wanted of one kind.

    Attributes:
        kind: which.
        expected: mean number over all the months.
        enough: number that is enough over all the months together (less than the sum of the months' numbers).
        months: month by month.
        shelf: what to mind before buying ahead; empty where nothing speaks against it.
    """

    kind: str
    expected: float
    enough: int
    months: tuple[MonthNeed, ...]
    shelf: str


@dataclass(frozen=True, eq=False)
class _Event:
    """One set (or single part): it is wanted as a whole."""

    units: int
    fails: Array
    planned_on: date | None
    fault: float


def parts_to_order(
    parts: Iterable[InUse],
    today: date,
    *,
    months: int = 12,
    enough: float = 0.95,
    lead_days: int | Mapping[str, int] = LEAD_DAYS,
) -> tuple[KindOrder, ...]:
    """What to order, kind by kind in the order of their first need.

    A part in the plan is wanted in its month unless it has failed before; a part that is run to failure when it fails.
    The number is a Poisson-binomial per draw of the life that the parts of a kind share, averaged over the draws; its
    quantile is taken last. A second failure at one place within the months is left out, a bad new part is not.

    Args:
        parts: parts in service.
        today: first day of the first month's rest.
        months: how many calendar months, the present one included, 1 to 36.
        enough: the chance with which the number shall be enough.
        lead_days: from order to delivery, for all kinds or by kind (others: 14 days).

    Raises:
        InputError: months, chance or lead times out of range, or chances of the wrong shape.
    """
    _check(months, enough, lead_days)
    kinds: dict[str, list[InUse]] = {}
    for part in parts:
        _check_part(part, months)
        kinds.setdefault(part.kind, []).append(part)
    orders = [
        _order(kind, own, today, (months, enough), _lead(lead_days, kind)) for kind, own in kinds.items()
    ]
    return tuple(sorted(orders, key=lambda order: (_first(order), order.kind)))


def _order(kind: str, parts: Sequence[InUse], today: date, asked: tuple[int, float], lead: int) -> KindOrder:
    months, enough = asked
    events = _in_sets(parts)
    begins = [today, *month_ends(today, months)]
    needs = tuple(
        _need(events, (place, begins[place], begins[place + 1]), today, enough, lead)
        for place in range(months)
    )
    whole = _law([(_over_all(event, begins[-1]), event) for event in events])
    return KindOrder(kind, whole.mean, whole.enough(enough), needs, shelf_warning(kind))


def _need(
    events: Sequence[_Event], month: tuple[int, date, date], today: date, enough: float, lead: int
) -> MonthNeed:
    place, begin, end = month
    days = [max(day, today) for day in (event.planned_on for event in events) if day is not None]
    due = [
        (max(event.planned_on, today), event.units)
        for event in events
        if event.planned_on is not None and begin <= max(event.planned_on, today) < end
    ]
    law = _law([(_in_month(event, place, begin, end), event) for event in events])
    needed = min((day for day in days if begin <= day < end), default=None)
    order = None if needed is None else needed - timedelta(days=lead)
    return MonthNeed(
        month=month_of(begin),
        planned=sum(units for _, units in due),
        expected=law.mean,
        enough=law.enough(enough),
        needed_by=needed,
        order_by=None if order is None else max(order, today),
        late=order is not None and order < today,
    )


def _in_month(event: _Event, place: int, begin: date, end: date) -> Array:
    """Chance per draw that the set is wanted in a month: planned in it, or failed in it."""
    before = event.fails[:, place - 1] if place else np.zeros(len(event.fails))
    planned = event.planned_on
    if planned is not None and planned < begin and place:
        return np.zeros(len(event.fails))
    if planned is not None and planned < end:
        return np.asarray(1.0 - before)
    return np.asarray(event.fails[:, place] - before)


def _over_all(event: _Event, end: date) -> Array:
    """Chance per draw that the set is wanted at all."""
    planned = event.planned_on is not None and event.planned_on < end
    return np.ones(len(event.fails)) if planned else event.fails[:, -1]


def _law(wanted: Sequence[tuple[Array, _Event]]) -> CountLaw:
    """The number of parts, bad new ones among them: each part of a wanted set may bring the need of another."""
    size = max(len(chance) for chance, _ in wanted)
    chances = [np.resize(chance, size) for chance, _ in wanted]
    units = [event.units for _, event in wanted]
    faults = [
        (event.fault * chance, 1)
        for chance, (_, event) in zip(chances, wanted, strict=True)
        for _ in range(event.units)
        if event.fault > 0
    ]
    every = [*chances, *(chance for chance, _ in faults)]
    return count_law(
        np.stack(every, axis=1), np.array([*units, *(unit for _, unit in faults)], dtype=np.int64)
    )


def _in_sets(parts: Sequence[InUse]) -> list[_Event]:
    sets: dict[str, list[InUse]] = {}
    for place, part in enumerate(parts):
        sets.setdefault(part.together or f"\0{place}", []).append(part)
    return [_as_one(group) for group in sets.values()]


def _as_one(group: Sequence[InUse]) -> _Event:
    size = max(len(part.fails) for part in group)
    good = np.prod([1.0 - np.resize(part.fails, (size, part.fails.shape[1])) for part in group], axis=0)
    planned = [part.planned_on for part in group if part.planned_on is not None]
    return _Event(len(group), 1.0 - good, min(planned, default=None), group[0].new_part_fault)


def _first(order: KindOrder) -> date:
    return min((need.needed_by for need in order.months if need.needed_by is not None), default=date.max)


def _lead(lead_days: int | Mapping[str, int], kind: str) -> int:
    return lead_days if isinstance(lead_days, int) else lead_days.get(kind, LEAD_DAYS)


def _check(months: int, enough: float, lead_days: int | Mapping[str, int]) -> None:
    if not 1 <= months <= 36:
        raise InputError("months", "from 1 to 36 months", months)
    if not 0.0 < enough < 1.0:
        raise InputError("enough", "a chance above 0 and below 1", enough)
    for days in [lead_days] if isinstance(lead_days, int) else lead_days.values():
        if days < 0:
            raise InputError("lead_days", "0 days or more", days)


def _check_part(part: InUse, months: int) -> None:
    fails = part.fails
    if fails.ndim != 2 or fails.shape[1] != months or not len(fails):
        raise InputError(f"{part.name}.fails", f"chances of shape (draws, {months})", fails.shape)
    if not np.all((fails >= 0) & (fails <= 1)) or np.any(np.diff(fails, axis=1) < -1e-9):
        raise InputError(
            f"{part.name}.fails", "chances from 0 to 1 that do not fall from month to month", fails
        )
