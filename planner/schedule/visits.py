"""Grouping work into visits: exact over all subsets to 12 jobs, a stated heuristic above.

After Wildeman, Dekker & Smit 1997, EJOR 99:530-551: moving a job from its own best day costs a penalty, a visit costs
its set-up once, and jobs behind one access share it. Groups of consecutive best days are not optimal in general
(penalties before and after differ, access is shared across), so every subset is weighed.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import UsageError
from planner.schedule.regroup import grouped_by_exchange
from planner.schedule.subsets import best_partition, subset_costs
from planner.schedule.work import Work, Workshop, in_sets

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

EXACT_UP_TO = 12
"""With more jobs (sets counted as one) than this, the grouping is heuristic."""


@dataclass(frozen=True)
class Visit:
    """One visit.

    Attributes:
        day: index of the plan's day.
        jobs: names of what is done, in the order given.
        cost: set-up, access and penalties.
    """

    day: int
    jobs: tuple[str, ...]
    cost: float


@dataclass(frozen=True)
class VisitPlan:
    """Work grouped into visits.

    Attributes:
        visits: in the order of their days.
        cost: set-ups, access and penalties of all.
        cost_apart: the same if every job (or set) had its own visit on its own best day.
        exact: False where the heuristic was used.
        over_limits: jobs that alone take more than a visit's hours or money; they are planned all the same.
        unplaced: jobs for which no open day is left before their limit; they need a day of their own, now.
        gap_kept: False where limits leave no way to keep the least gap between visits.
    """

    visits: tuple[Visit, ...]
    cost: float
    cost_apart: float
    exact: bool
    over_limits: tuple[str, ...] = ()
    unplaced: tuple[str, ...] = ()
    gap_kept: bool = True

    @property
    def saved(self) -> float:
        """What grouping saves."""
        return self.cost_apart - self.cost


def group_visits(jobs: Sequence[Work], workshop: Workshop, *, exact: bool | None = None) -> VisitPlan:
    """Place jobs on the plan's days at the least cost of set-ups, access and penalties.

    Up to 12 jobs the result is the best there is; above, consecutive grouping by best day improved by moves and
    swaps of jobs between visits until none helps, and reported as a heuristic. With a least gap between visits the
    heuristic keeps the gap too. `exact` forces one way or the other (for measuring the gap between them).

    Raises:
        UsageError: jobs whose penalties run over different numbers of days.
    """
    if len({len(job.penalty) for job in jobs}) > 1:
        raise UsageError("penalty", "one cost per day of the plan, the same days for all", "unequal lengths")
    merged = in_sets(jobs)
    open_days = _open(workshop, len(merged[0][0].penalty)) if merged else np.ones(0, dtype=bool)
    placed = [pair for pair in merged if np.any(np.isfinite(pair[0].penalty[open_days]))]
    unplaced = tuple(name for pair in merged if pair not in placed for name in pair[1])
    if not placed:
        return VisitPlan((), 0.0, 0.0, exact=True, unplaced=unplaced)
    work = [job for job, _ in placed]
    names = [each for _, each in placed]
    use_exact = len(work) <= EXACT_UP_TO if exact is None else exact
    find = best_partition if use_exact else grouped_by_exchange
    groups = find(work, workshop, open_days)
    visits = tuple(
        sorted((_visit(group, day, cost, names) for group, day, cost in groups), key=lambda v: v.day)
    )
    apart = sum(subset_costs([job], workshop, open_days).least[1] for job in work)
    return VisitPlan(
        visits=visits,
        cost=sum(visit.cost for visit in visits),
        cost_apart=float(apart),
        exact=use_exact,
        over_limits=tuple(name for job, each in placed if _too_much(job, workshop) for name in each),
        unplaced=unplaced,
        gap_kept=all(b.day - a.day >= workshop.least_gap for a, b in pairwise(visits)),
    )


def _visit(group: Sequence[int], day: int, cost: float, names: list[tuple[str, ...]]) -> Visit:
    return Visit(day, tuple(name for i in sorted(group) for name in names[i]), cost)


def _too_much(job: Work, workshop: Workshop) -> bool:
    return job.hours > workshop.most_hours or job.money > workshop.most_money


def _open(workshop: Workshop, days: int) -> NDArray[np.bool_]:
    if workshop.open_days is None:
        return np.ones(days, dtype=bool)
    open_days = np.asarray(workshop.open_days, dtype=bool)
    if open_days.shape != (days,):
        raise UsageError("open_days", f"one flag for each of the {days} days of the plan", open_days.shape)
    return open_days
