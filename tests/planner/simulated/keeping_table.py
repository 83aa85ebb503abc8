"""What keeping cost and how often it stopped cars, per car-year, by use and period, with standard errors."""

import math

import numpy as np

from planner.interval import default_costs
from tests.planner.simulated.keeping_policies import (
    Mixed,
    one_clock,
    plan_from_records,
    plan_from_truth,
    rule_of_thumb,
    run_to_failure,
)
from tests.planner.simulated.keeping_world import AHEAD, PAST, draw_world
from tests.planner.simulated.keeping_years import Fleet, keep

PLAN, TRUTH, THUMB, RUN, ONE = (
    "this plan",
    "the plan, truth known",
    "rule of thumb (60 % of the book's life)",
    "run to failure",
    "one clock (km), lifelines",
)
POLICIES = (PLAN, TRUTH, THUMB, RUN, ONE)
BANDS = {
    "up to 5,000 km a year": (0, 5_000),
    "5,000 to 20,000 km a year": (5_000, 25_000),
    "all": (0, 25_000),
}
PERIODS = {"first year": (0, 1), "years 11 to 30": (10, AHEAD)}


def replication(number, kinds=None):
    """Cost and stops per car-year of one world, shape (policies, periods, bands, 2)."""
    world = draw_world(number, kinds)
    state, log = keep(world, Fleet.new(world), Mixed(world.kinds, number), 0, PAST)
    policies = {
        PLAN: plan_from_records(world, log, state),
        TRUTH: plan_from_truth(world),
        THUMB: rule_of_thumb(world.kinds),
        RUN: run_to_failure(world.kinds),
        ONE: one_clock(world, log, state)[0],
    }
    kept = [keep(world, state, policies[name], PAST, PAST + AHEAD)[1] for name in POLICIES]
    return np.array([_counted(world, each) for each in kept])


def _counted(world, log):
    costs = [default_costs(kind) for kind in world.kinds]
    kind, car = world.kind[log.position], world.car[log.position]
    planned, failure = (
        np.array([getattr(each, name) for each in costs])[kind] for name in ("planned", "failure")
    )
    paid = np.where(log.failed, failure, planned)
    stops = np.where(log.failed, np.array([each.stops_car for each in world.kinds])[kind], 0.0)
    rate, since = np.array([each.km_per_year for each in world.cars]), log.ended - PAST
    found = np.zeros((len(PERIODS), len(BANDS), 2))
    for i, (start, end) in enumerate(PERIODS.values()):
        for j, (low, high) in enumerate(BANDS.values()):
            own = (since >= start) & (since < end) & (rate[car] > low) & (rate[car] <= high)
            car_years = np.sum((rate > low) & (rate <= high)) * (end - start)
            found[i, j] = paid[own].sum() / car_years, stops[own].sum() / car_years
    return found


def mean_and_error(values):
    """(mean, standard error) over replications."""
    return float(np.mean(values)), float(np.std(values, ddof=1) / math.sqrt(len(values)))


def table(results):
    """The results of all replications as a table in Markdown; results have shape (replications, …) as above."""
    lines = []
    for i, period in enumerate(PERIODS):
        for j, band in enumerate(BANDS):
            lines += [
                f"\n{period}, {band}",
                "| policy | cost per car-year | against this plan | stops per car-year |",
                "|---|---|---|---|",
            ]
            lines += [_row(results[:, :, i, j], k) for k in range(len(POLICIES))]
    return "\n".join(lines)


def _row(each, k):
    cost, stops = mean_and_error(each[:, k, 0]), mean_and_error(each[:, k, 1])
    more = extra(each[:, k, 0], each[:, 0, 0])
    against = "" if k == 0 else f"{more[0]:+.1%} (se {more[1]:.1%})"
    return f"| {POLICIES[k]} | {cost[0]:.0f} (se {cost[1]:.1f}) | {against} | {stops[0]:.3f} (se {stops[1]:.4f}) |"


def extra(one, other):
    """(ratio of means - 1, its standard error over paired replications by the delta method)."""
    ratio = float(np.mean(one) / np.mean(other))
    error = np.std(one - ratio * other, ddof=1) / np.mean(other) / math.sqrt(len(one))
    return ratio - 1.0, float(error)
