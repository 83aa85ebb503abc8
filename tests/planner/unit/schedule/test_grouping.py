"""Grouping into visits equals trying everything, is never dearer than no grouping, and drops no safety item."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.errors import CostError, UsageError
from planner.schedule.visits import group_visits
from planner.schedule.work import Work, Workshop
from tests.planner.unit.schedule.random_plans import (
    DAYS,
    random_jobs,
    random_workshop,
    try_everything,
    try_everything_with_gap,
    visit_cost,
)


def feasible(jobs, workshop):
    """The jobs that some open day is left for."""
    days = np.ones(DAYS, dtype=bool) if workshop.open_days is None else workshop.open_days
    return [job for job in jobs if np.any(np.isfinite(job.penalty[days]))]


def check_against_everything(seed, most):
    rng = np.random.default_rng(seed)
    jobs, workshop = random_jobs(rng, int(rng.integers(1, most + 1))), random_workshop(rng)
    plan = group_visits(jobs, workshop)
    placed = feasible(jobs, workshop)
    assert plan.exact
    assert plan.cost == pytest.approx(try_everything(placed, workshop) if placed else 0.0, rel=1e-12)
    assert plan.cost <= plan.cost_apart + 1e-9
    by_name = {job.name: job for job in jobs}
    for visit in plan.visits:
        assert visit.cost == pytest.approx(
            visit_cost([by_name[name] for name in visit.jobs], visit.day, workshop)
        )
        assert math.isfinite(visit.cost)
    done = [name for visit in plan.visits for name in visit.jobs]
    assert sorted([*done, *plan.unplaced]) == sorted(by_name)
    heuristic = group_visits(jobs, workshop, exact=False)
    assert plan.cost - 1e-9 <= heuristic.cost <= heuristic.cost_apart + 1e-9


@pytest.mark.parametrize("gap", [DAYS, DAYS + 1, 3 * DAYS])
def test_a_gap_longer_than_the_plan_leaves_one_visit(gap):
    rng = np.random.default_rng(1)
    jobs, workshop = random_jobs(rng, 5), random_workshop(rng, gap=gap)
    plan = group_visits(jobs, workshop)
    assert plan.gap_kept == (len(plan.visits) <= 1)
    done = [name for visit in plan.visits for name in visit.jobs]
    assert sorted([*done, *plan.unplaced]) == sorted(job.name for job in jobs)


@pytest.mark.parametrize("seed", range(40))
def test_grouping_equals_trying_everything(seed):
    check_against_everything(seed, 6)


@pytest.mark.full
def test_grouping_equals_trying_everything_on_500_plans_of_up_to_8_jobs():
    for seed in range(1_000, 1_500):
        check_against_everything(seed, 8)


@pytest.mark.parametrize("seed", range(25))
def test_with_a_least_gap_grouping_equals_trying_everything(seed):
    rng = np.random.default_rng(seed)
    workshop = random_workshop(rng, gap=int(rng.integers(2, 12)))
    jobs = feasible(random_jobs(rng, int(rng.integers(2, 5))), workshop)
    exact = try_everything_with_gap(jobs, workshop)
    plan = group_visits(jobs, workshop)
    if math.isfinite(exact):
        assert plan.gap_kept
        assert plan.cost == pytest.approx(exact, rel=1e-12)
    else:
        assert not plan.gap_kept


def test_consecutive_groups_are_not_optimal_and_ours_is_better():
    # early and late slopes differ and access is shared across: the middle job belongs with neither neighbour
    day = np.arange(DAYS)
    early = Work("early", np.where(day <= 5, 0.0, np.inf), "engine", 60)
    middle = Work("middle", np.where(day < 20, 30.0 * (20 - day), 30.0 * (day - 20)))
    late = Work("late", np.where(day < 35, 0.1 * (35 - day), 50.0 * (day - 35)), "engine", 60)
    plan = group_visits([early, middle, late], Workshop(set_up=40))
    assert {visit.jobs for visit in plan.visits} == {("early", "late"), ("middle",)}


def test_more_than_twelve_jobs_are_a_stated_heuristic_close_to_the_exact_answer():
    gaps = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        jobs, workshop = random_jobs(rng, 11), random_workshop(rng)
        exact = group_visits(jobs, workshop, exact=True)
        gaps.append(group_visits(jobs, workshop, exact=False).cost / exact.cost - 1)
    assert min(gaps) >= -1e-12
    assert np.mean(gaps) < 0.02
    assert max(gaps) < 0.15
    many = group_visits(random_jobs(np.random.default_rng(1), 40), Workshop(set_up=40))
    assert not many.exact
    assert many.cost < many.cost_apart


def test_set_members_are_done_together_and_by_the_first_cap_among_them():
    day = np.arange(DAYS)
    left = Work("left", np.where(day <= 10, 0.0, np.inf), together="front axle")
    right = Work("right", np.where(day < 30, 1.0 * (30 - day), 0.0), together="front axle")
    plan = group_visits([left, right, Work("other", np.zeros(DAYS))], Workshop(set_up=10))
    visit = next(visit for visit in plan.visits if "left" in visit.jobs)
    assert "right" in visit.jobs
    assert visit.day <= 10


def test_a_job_too_big_for_any_visit_is_planned_and_said():
    big = Work("engine harness", np.zeros(DAYS), hours=20, money=1_800, safety=True)
    small = Work("relay", np.zeros(DAYS), hours=0.2, money=20)
    plan = group_visits([big, small], Workshop(set_up=10, most_hours=4, most_money=300))
    assert plan.over_limits == ("engine harness",)
    assert sorted(name for visit in plan.visits for name in visit.jobs) == ["engine harness", "relay"]
    assert len(plan.visits) == 2


def test_a_job_with_no_open_day_before_its_limit_is_said_and_not_dropped():
    late_season = np.arange(DAYS) >= 20
    tyre = Work("tyre", np.where(np.arange(DAYS) <= 5, 0.0, np.inf), safety=True)
    plan = group_visits([tyre, Work("plugs", np.zeros(DAYS))], Workshop(10, open_days=late_season))
    assert plan.unplaced == ("tyre",)
    assert plan.visits[0].jobs == ("plugs",)
    assert plan.visits[0].day >= 20


def test_no_job_is_placed_past_its_cap_by_the_heuristic():
    for seed in range(10):
        rng = np.random.default_rng(seed)
        jobs = random_jobs(rng, 25)
        by_name = {job.name: job for job in jobs}
        plan = group_visits(jobs, random_workshop(rng, gap=3))
        for visit in plan.visits:
            assert all(math.isfinite(by_name[name].penalty[visit.day]) for name in visit.jobs)


def test_nothing_to_do_is_an_empty_plan():
    plan = group_visits([], Workshop(set_up=10))
    assert (plan.visits, plan.cost, plan.saved) == ((), 0, 0)


def test_bad_input_names_the_field():
    with pytest.raises(UsageError) as refused:
        Work("a", np.full(3, np.inf))
    assert refused.value.field == "a.penalty"
    for field in ("access_cost", "hours", "money"):
        with pytest.raises(CostError) as refused_cost:
            replace(Work("a", np.zeros(3)), **{field: -1.0})
        assert refused_cost.value.field == f"a.{field}"
    with pytest.raises(CostError):
        Workshop(set_up=math.nan)
    with pytest.raises(UsageError):
        group_visits([Work("a", np.zeros(3)), Work("b", np.zeros(4))], Workshop(set_up=1))
    with pytest.raises(UsageError):
        group_visits([Work("a", np.zeros(3))], Workshop(set_up=1, open_days=np.ones(4, dtype=bool)))
