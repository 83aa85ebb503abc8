"""The cost of every subset of jobs as one visit, and the best partition into visits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.schedule.work import Work, Workshop

Array = NDArray[np.float64]
Group = tuple[tuple[int, ...], int, float]
"""(places of the jobs, day, cost) of one visit."""


@dataclass(frozen=True)
class SubsetCosts:
    """Costs of visits by subset (bit i: job i).

    Attributes:
        by_day: cost on each open day, infinite on closed days and where a job's limit is passed; (subsets, days).
        least: cheapest cost of each subset, shape (subsets,).
        day: the day of it.
    """

    by_day: Array
    least: Array
    day: NDArray[np.intp]


def subset_costs(jobs: Sequence[Work], workshop: Workshop, open_days: NDArray[np.bool_]) -> SubsetCosts:
    """Costs of all 2^n subsets; the empty one costs nothing."""
    count, days = 1 << len(jobs), len(open_days)
    by_day = np.zeros((count, days))
    fixed, hours, money = np.zeros(count), np.zeros(count), np.zeros(count)
    for place, job in enumerate(jobs):
        bit = 1 << place
        by_day[bit : 2 * bit] = by_day[:bit] + np.where(open_days, job.penalty, np.inf)
        hours[bit : 2 * bit] = hours[:bit] + job.hours
        money[bit : 2 * bit] = money[:bit] + job.money
    fixed[1:] = workshop.set_up
    fixed += _access(jobs)
    by_day += fixed[:, None]
    single = np.bitwise_count(np.arange(count)) == 1
    too_much = ((hours > workshop.most_hours) | (money > workshop.most_money)) & ~single
    by_day[too_much] = np.inf
    day = np.argmin(by_day, axis=1)
    return SubsetCosts(by_day, by_day[np.arange(count), day], day)


def best_partition(jobs: Sequence[Work], workshop: Workshop, open_days: NDArray[np.bool_]) -> list[Group]:
    """The cheapest way to split the jobs into visits, by dynamic programming over subsets.

    With a least gap over one day the program also runs over the day of the last visit.
    """
    costs = subset_costs(jobs, workshop, open_days)
    if workshop.least_gap > 1:
        found = _with_gap(costs, len(jobs), workshop.least_gap)
        if found is not None:
            return found
    return _without_gap(costs, len(jobs))


def _without_gap(costs: SubsetCosts, jobs: int) -> list[Group]:
    least = costs.least.tolist()
    best, choice = [0.0] + [math.inf] * ((1 << jobs) - 1), [0] * (1 << jobs)
    for mask in range(1, 1 << jobs):
        low = mask & -mask
        rest = mask ^ low
        sub = rest
        while True:
            cost = least[sub | low] + best[rest ^ sub]
            if cost < best[mask]:
                best[mask], choice[mask] = cost, sub | low
            if sub == 0:
                break
            sub = (sub - 1) & rest
    groups, mask = [], (1 << jobs) - 1
    while mask:
        subset = choice[mask]
        groups.append((_members(subset), int(costs.day[subset]), float(costs.least[subset])))
        mask ^= subset
    return groups


def _with_gap(costs: SubsetCosts, jobs: int, gap: int) -> list[Group] | None:
    """The best partition with at least `gap` days between visits; None where there is none."""
    days = costs.by_day.shape[1]
    full = (1 << jobs) - 1
    best = np.full(
        (full + 1, days), np.inf
    )  # best[mask, d]: all of mask done, the last visit on day d or before
    best[0] = 0.0
    last = np.zeros((full + 1, days), dtype=np.int64)
    for mask in range(1, full + 1):
        subsets = _subsets(mask)
        before = np.full((len(subsets), days), np.inf)
        before[:, gap:] = best[mask ^ subsets][:, : max(days - gap, 0)]
        before[-1] = 0.0  # the whole of mask at the first visit
        cost = costs.by_day[subsets] + before
        chosen = np.argmin(cost, axis=0)
        own = cost[chosen, np.arange(days)]
        best[mask] = np.minimum.accumulate(own)
        held = np.maximum.accumulate(np.where(own <= best[mask], np.arange(days), 0))
        last[mask] = subsets[chosen[held]] * days + held
    if not np.isfinite(best[full, -1]):
        return None
    return _traced(costs, best, last, gap)


def _subsets(mask: int) -> NDArray[np.int64]:
    """All subsets of a set but the empty one, ascending, the set itself last."""
    found = np.zeros(1, dtype=np.int64)
    for place in _members(mask):
        found = np.concatenate((found, found | (1 << place)))
    return found[1:]


def _traced(costs: SubsetCosts, best: Array, last: NDArray[np.int64], gap: int) -> list[Group]:
    days = costs.by_day.shape[1]
    groups: list[Group] = []
    mask, at = len(best) - 1, days - 1
    while mask:
        subset, day = divmod(int(last[mask, at]), days)
        groups.append((_members(subset), day, float(costs.by_day[subset, day])))
        mask, at = mask ^ subset, day - gap
    return groups


def _access(jobs: Sequence[Work]) -> Array:
    """Access cost of every subset: the dearest of each group once; jobs of no group each their own."""
    count = 1 << len(jobs)
    total = np.zeros(count)
    groups: dict[str, list[int]] = {}
    for place, job in enumerate(jobs):
        groups.setdefault(job.access_group or f"\0{place}", []).append(place)
    numbers = np.arange(count)
    for places in groups.values():
        dearest = np.zeros(count)
        for place in places:
            present = (numbers >> place) & 1
            dearest = np.maximum(dearest, present * jobs[place].access_cost)
        total += dearest
    return total


def _members(mask: int) -> tuple[int, ...]:
    return tuple(place for place in range(mask.bit_length()) if mask >> place & 1)
