"""Random plans for the grouping tests, and a grouping by trying everything that shares no code with the product."""

import itertools
import math

import numpy as np

from planner.schedule.work import Work, Workshop

DAYS = 40


def random_jobs(rng, count, *, sets=False):
    jobs = []
    for i in range(count):
        best = rng.integers(0, DAYS)
        early, late = rng.uniform(0, 6), rng.uniform(0, 20)  # unequal slopes
        day = np.arange(DAYS)
        bend = rng.uniform(0.7, 2.0)
        penalty = np.where(
            day < best, early * np.maximum(best - day, 0) ** bend, late * np.maximum(day - best, 0) ** bend
        )
        if rng.random() < 0.4:
            penalty = np.where(day > best + rng.integers(0, 8), np.inf, penalty)  # a cap
        jobs.append(
            Work(
                f"job {i}",
                penalty,
                access_group=str(rng.choice(["", "front", "belt", "under"])),
                access_cost=float(rng.choice([0, 15, 60])),
                hours=float(rng.uniform(0.2, 3)),
                money=float(rng.uniform(10, 200)),
                safety=bool(rng.random() < 0.3),
                together="axle" if sets and i < 2 else "",
            )
        )
    return jobs


def random_workshop(rng, *, gap=1):
    open_days = rng.random(DAYS) < 0.8
    open_days[0] = True
    return Workshop(
        set_up=float(rng.choice([5, 40, 150])),
        open_days=open_days if rng.random() < 0.5 else None,
        least_gap=gap,
        most_hours=float(rng.choice([math.inf, 4.0])),
        most_money=float(rng.choice([math.inf, 350.0])),
    )


def partitions(items):
    """Every way to split items into groups."""
    if not items:
        yield []
        return
    first, rest = items[0], items[1:]
    for split in partitions(rest):
        yield [[first], *split]
        for i in range(len(split)):
            yield [*split[:i], [first, *split[i]], *split[i + 1 :]]


def visit_cost(group, day, workshop):
    """Cost of one visit on a day, reckoned job by job."""
    if workshop.open_days is not None and not workshop.open_days[day]:
        return math.inf
    if len(group) > 1 and sum(job.hours for job in group) > workshop.most_hours:
        return math.inf
    if len(group) > 1 and sum(job.money for job in group) > workshop.most_money:
        return math.inf
    cost = workshop.set_up + sum(float(job.penalty[day]) for job in group)
    for name in {job.access_group for job in group if job.access_group}:
        cost += max(job.access_cost for job in group if job.access_group == name)
    return cost + sum(job.access_cost for job in group if not job.access_group)


def try_everything(jobs, workshop, remembered=None):
    """The least cost over all partitions, each group on its own best day (no least gap)."""
    known = {}

    def least(group):
        key = tuple(job.name for job in group)
        if key not in known:
            known[key] = min(visit_cost(group, day, workshop) for day in range(DAYS))
        return known[key]

    return min(sum(least(group) for group in split) for split in partitions(jobs))


def try_everything_with_gap(jobs, workshop):
    """The least cost over all partitions and all days that keep the gap."""
    best = math.inf
    for split in partitions(jobs):
        for order in itertools.permutations(split):
            ahead = [0.0] * DAYS  # least cost of the visits so far, the last on day d or before
            for place, group in enumerate(order):
                own = [
                    visit_cost(group, day, workshop)
                    + (
                        0.0
                        if place == 0
                        else (ahead[day - workshop.least_gap] if day >= workshop.least_gap else math.inf)
                    )
                    for day in range(DAYS)
                ]
                ahead = list(itertools.accumulate(own, min))
            best = min(best, ahead[-1])
    return best
