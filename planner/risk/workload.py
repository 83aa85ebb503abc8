"""Workshop hours ahead, month by month: what stands in the plan, and what failures will bring."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from planner.risk.orders import KindOrder


@dataclass(frozen=True)
class MonthHours:
    """Hours of one month.

    Attributes:
        month: its first day.
        planned: for what stands in the plan, at the middle of each job's range.
        unplanned: expected for failures beside it.
        low, high: for both, with every engine as accessible, or as cramped, as they come.
    """

    month: date
    planned: float
    unplanned: float
    low: float
    high: float


def workshop_hours(
    orders: Sequence[KindOrder], labour: Mapping[str, tuple[float, float]]
) -> tuple[MonthHours, ...]:
    """Hours month by month from the parts wanted in each.

    Access that jobs of one visit share is counted for each of them, so the figures are on the high side.

    Args:
        orders: as `parts_to_order` gives them.
        labour: hours of one renewal by kind, from an accessible engine to a cramped one.

    Raises:
        InputError: a kind without hours, or hours out of order.
    """
    found: dict[date, list[float]] = {}
    for order in orders:
        low, high = _hours(labour, order.kind)
        for need in order.months:
            sums = found.setdefault(need.month, [0.0, 0.0, 0.0, 0.0])
            middle, planned = (low + high) / 2, min(need.planned, need.expected)
            amounts = (
                planned * middle,
                (need.expected - planned) * middle,
                need.expected * low,
                need.expected * high,
            )
            sums[:] = [total + more for total, more in zip(sums, amounts, strict=True)]
    return tuple(MonthHours(month, *sums) for month, sums in sorted(found.items()))


def _hours(labour: Mapping[str, tuple[float, float]], kind: str) -> tuple[float, float]:
    low, high = labour.get(kind, (-1.0, -1.0))
    if not 0.0 <= low <= high:
        raise InputError(f"labour.{kind}", "hours from low to high, 0 or more", labour.get(kind))
    return low, high
