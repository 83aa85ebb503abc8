"""One job of a plan: what moving it from its own best day costs, and what it shares with others."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import CostError, UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Work:
    """A renewal or a check that is to be placed on one of a plan's days.

    Attributes:
        name: whatever the caller knows it by.
        penalty: extra cost of doing it on each day of the plan, 0 at its own best day and infinite past its cap or
            risk limit; shape (days,).
        access_group: jobs of one group share `access_cost` when done at one visit.
        access_cost: cost of getting at it (labour), saved for all but one of its group.
        hours: working time without the access.
        money: outlay for parts and labour, for a budget.
        safety: it may not be left out, whatever the budget.
        together: jobs of one set are done at one visit (both banks, an axle); empty for none.

    Raises:
        UsageError: no day is possible.
        CostError: a cost or time is negative or not finite.
    """

    name: str
    penalty: Array
    access_group: str = ""
    access_cost: float = 0.0
    hours: float = 0.0
    money: float = 0.0
    safety: bool = False
    together: str = ""

    def __post_init__(self) -> None:
        if self.penalty.ndim != 1 or not np.any(np.isfinite(self.penalty)) or np.any(np.isnan(self.penalty)):
            raise UsageError(f"{self.name}.penalty", "a cost for at least one day", self.penalty)
        for field in ("access_cost", "hours", "money"):
            value = getattr(self, field)
            if not math.isfinite(value) or value < 0:
                raise CostError(f"{self.name}.{field}", "a finite amount of 0 or more", value)


@dataclass(frozen=True)
class Workshop:
    """What a visit costs and allows.

    Attributes:
        set_up: cost of a visit as such (the day, the trip, the jack and the lamp).
        open_days: which of the plan's days a visit may fall on (season, closing days); None for all.
        least_gap: days of the plan between two visits, at least.
        most_hours, most_money: what one visit may take; infinite for no limit.

    Raises:
        CostError: a figure is negative or not a number.
    """

    set_up: float
    open_days: NDArray[np.bool_] | None = None
    least_gap: int = 1
    most_hours: float = math.inf
    most_money: float = math.inf

    def __post_init__(self) -> None:
        for field in ("set_up", "most_hours", "most_money", "least_gap"):
            value = getattr(self, field)
            if math.isnan(value) or value < 0 or (field == "set_up" and math.isinf(value)):
                raise CostError(field, "an amount of 0 or more", value)


def in_sets(jobs: Sequence[Work]) -> list[tuple[Work, tuple[str, ...]]]:
    """Jobs with each set made one job, and the names that went into it.

    A set's penalty is the sum of its members', so it is impossible past the first cap among them; access of one group
    counts once.
    """
    members: dict[str, list[Work]] = {}
    for place, job in enumerate(jobs):
        members.setdefault(job.together or f"\0{place}", []).append(job)
    return [(_merged(group), tuple(job.name for job in group)) for group in members.values()]


def _merged(group: list[Work]) -> Work:
    if len(group) == 1:
        return group[0]
    largest = max(group, key=lambda job: job.access_cost)
    apart = sum(job.access_cost for job in group if job.access_group != largest.access_group)
    return replace(
        largest,
        name=group[0].together,
        penalty=np.sum([job.penalty for job in group], axis=0),
        hours=sum(job.hours for job in group),
        money=sum(job.money for job in group) + apart,
        safety=any(job.safety for job in group),
    )
