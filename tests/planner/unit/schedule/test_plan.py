"""A car's plan: renewals to a horizon, visits that share, decisions of the keeper, and what to leave alone."""

import itertools
import math
from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.errors import UsageError
from planner.interval import NO_CAP, Cap, Costs, best_interval
from planner.life.model import known_life
from planner.schedule import InService, due_window
from planner.schedule.opening import Season
from planner.schedule.plan import PlannedPart, plan_car
from planner.schedule.snooze import Snooze, put_off
from planner.schedule.work import Workshop
from tests.planner.unit.schedule.schedule_stand_ins import Days, interval, steady

TODAY = date(2026, 3, 2)
USE = steady(2_000, TODAY, 62_000)
SHOP = Workshop(set_up=50)


def planned(name, scale, age, *, shape=3.0, cap=NO_CAP, **changes):
    """A part on the age clock, fitted `age` years ago, with a life of that scale."""
    life, costs = known_life(age=(shape, scale)), changes.pop("costs", Costs(60, 400))
    fitted = TODAY - timedelta(days=math.floor(age * 365.25))
    return PlannedPart(
        name,
        InService(Days.on(fitted), age_unknown=False, fitted_km=(0, 0, 0), clocks=("age",)),
        km=2_000 * age,
        years=age,
        life=life,
        costs=costs,
        interval=best_interval(life, costs, 2_000, changes.get("max_risk"), cap),
        cap=cap,
        **changes,
    )  # fmt: skip


def test_renewals_repeat_at_the_interval_up_to_the_horizon():
    part = planned("cap", 4.0, 1.0)
    plan = plan_car([part], USE, TODAY, SHOP, horizon_years=10)
    likely = [renewal.window.likely for renewal in plan.renewals]
    assert len(likely) == math.floor((10 + 1) / part.interval.years)
    for one, other in itertools.pairwise(likely):
        assert abs((other - one).days / 365.25 - part.interval.years) < 0.01
    widths = [(renewal.window.latest - renewal.window.earliest).days for renewal in plan.renewals]
    assert widths == sorted(widths)
    assert [renewal.number for renewal in plan.renewals] == list(range(1, len(likely) + 1))


def test_work_behind_one_access_comes_together_and_saves():
    parts = [
        planned("belt", 6.0, 1.6, access_group="front", access_cost=120),
        planned("pump", 6.4, 1.6, access_group="front", access_cost=120),
        planned("hose", 6.2, 1.6),
    ]
    plan = plan_car(parts, USE, TODAY, SHOP, horizon_years=5)
    assert len(plan.visits) == 1
    assert plan.visits[0].jobs == ("belt", "pump", "hose")
    assert plan.grouping.saved > 120


def test_visits_keep_to_the_open_months_and_closing_days():
    parts = [planned("belt", 6.0, 1.2), planned("pump", 3.0, 0.2)]
    winter = plan_car(parts, USE, TODAY, SHOP, open_months=(11, 12, 1, 2))
    assert winter.visits
    assert all(visit.week_of.month in {11, 12, 1, 2} for visit in winter.visits)
    free = plan_car([parts[0]], USE, TODAY, SHOP).visits[0].week_of
    shut = {free + timedelta(days=day): True for day in range(7)}
    moved = plan_car([parts[0]], USE, TODAY, SHOP, closed=shut).visits[0].week_of
    assert abs((moved - free).days) == 7


def test_a_visit_is_never_after_a_hard_cap():
    capped = planned("tyre", 30.0, 4.5, cap=Cap(years=5), safety=True)
    plan = plan_car([capped, planned("belt", 6.0, 0.2)], USE, TODAY, Workshop(set_up=2_000))
    limit = TODAY + timedelta(days=math.ceil(0.5 * 365.25))
    visit = next(visit for visit in plan.visits if "tyre" in visit.jobs)
    assert visit.week_of <= limit
    past = plan_car([planned("tyre", 30.0, 7, cap=Cap(years=5), safety=True)], USE, TODAY, SHOP)
    assert past.visits[0].week_of == TODAY
    assert past.renewals[0].window.status == "due now"


def test_a_safety_item_with_no_open_week_before_its_limit_is_said():
    capped = planned("tyre", 30.0, 4.9, cap=Cap(years=5), safety=True)
    plan = plan_car([capped, planned("belt", 6.0, 1.6)], USE, TODAY, SHOP, open_months=(11, 12))
    assert plan.grouping.unplaced == ("tyre",)
    assert plan.renewals[0].name == "tyre"
    (name, words), *_ = plan.could_not_fit
    assert name == "tyre"
    assert f"limit on {plan.renewals[0].window.limit}" in words
    assert "before the next drive" in words


def test_work_of_the_driving_season_is_done_before_its_first_drive():
    season = Season(start=(4, 1), end=(10, 15))
    june = planned("belt", 6.0, 2.45)
    free = plan_car([june], USE, TODAY, SHOP).visits[0].week_of
    assert season.holds(free)
    before = plan_car([june], USE, TODAY, SHOP, season=season).visits[0].week_of
    assert not season.holds(before)
    assert (before.year, before.month) == (2026, 3)


def test_a_season_may_run_over_new_year():
    southern = Season(start=(10, 1), end=(3, 31))
    assert southern.holds(date(2026, 12, 24))
    assert southern.holds(date(2026, 2, 1))
    assert not southern.holds(date(2026, 7, 1))


def test_a_set_comes_whole_when_its_first_member_is_due():
    old, young = planned("left", 6.0, 3.0, together="axle"), planned("right", 6.0, 0.2, together="axle")
    assert plan_car([old, young], USE, TODAY, SHOP).visits[0].jobs == ("left", "right")
    alone = plan_car([old, replace(young, together="")], USE, TODAY, SHOP, visits_within=1.0)
    assert [visit.jobs for visit in alone.visits] == [("left",)]


def test_what_one_visit_cannot_hold_is_planned_and_said():
    dear = planned("harness", 6.0, 3.0, hours=30.0, money=2_000.0)
    brake = planned("hose", 6.0, 3.0, hours=9.0, money=900.0, safety=True)
    shop = Workshop(set_up=50, most_hours=8, most_money=500)
    plan = plan_car([dear, brake], USE, TODAY, shop)
    assert {job for visit in plan.visits for job in visit.jobs} == {"harness", "hose"}
    assert [name for name, _ in plan.could_not_fit[:2]] == ["hose", "harness"]
    assert all("planned all the same" in words for _, words in plan.could_not_fit[:2])


def test_a_gap_that_limits_leave_no_way_to_keep_is_said():
    parts = [
        planned("tyre", 30.0, 4.9, cap=Cap(years=5), hours=5.0),
        planned("belt", 30.0, 4.85, cap=Cap(years=5), hours=5.0),
    ]
    plan = plan_car(parts, USE, TODAY, Workshop(set_up=50, least_gap=20, most_hours=6))
    assert len(plan.visits) == 2
    assert ("visits", "The parts' limits leave no way to keep 20 weeks between visits.") in plan.could_not_fit


def test_what_needs_nothing_is_left_alone_with_a_reason():
    random = planned("condenser", 20.0, 3.0, shape=1.0)
    young = planned("belt", 40.0, 1.0)
    plan = plan_car([random, young], USE, TODAY, SHOP, horizon_years=3)
    assert plan.renewals == ()
    assert plan.visits == ()
    reasons = dict(plan.leave_alone)
    assert "carry a spare" in reasons["condenser"]
    assert reasons["belt"].startswith("Due about")


def test_a_snoozed_job_waits_for_its_day_and_a_declined_one_is_shown():
    part = planned("belt", 6.0, 3.0)
    until = TODAY + timedelta(days=300)
    later = plan_car([replace(part, snooze=Snooze(until, "car in the paint shop", TODAY))], USE, TODAY, SHOP)
    assert later.renewals[0].window.likely == until
    assert "car in the paint shop" in later.renewals[0].accepted
    assert abs((later.visits[0].week_of - until).days) <= 7
    declined = plan_car([replace(part, snooze=Snooze(None, "sold in May", TODAY))], USE, TODAY, SHOP)
    assert declined.visits == ()
    assert declined.renewals[0].window.status == "due now"
    assert "sold in May" in declined.renewals[0].accepted


def service(age):
    fitted = TODAY - timedelta(days=math.floor(age * 365.25))
    return InService(Days.on(fitted), age_unknown=False, fitted_km=(0, 0, 0), clocks=("age",))


def test_putting_off_never_passes_a_hard_cap_and_the_warning_stays():
    window = due_window(service(4.0), USE, interval(4.5, 2_000), Cap(years=5), TODAY)
    wish = Snooze(TODAY + timedelta(days=4_000), "no money", TODAY)
    snoozed = put_off(window, wish, TODAY)
    assert snoozed.window.likely == window.limit
    assert snoozed.window.latest == window.limit
    assert "cannot be put off past it" in snoozed.warning
    again = put_off(snoozed.window, wish, TODAY)
    assert (again.window.likely, again.warning) == (window.limit, snoozed.warning)
    declined = put_off(window, Snooze(None, "never", TODAY), TODAY)
    assert declined.window == window
    assert "declining does not move it" in declined.warning


def test_putting_off_past_a_limit_already_reached_stays_due_now():
    window = due_window(service(6.0), USE, interval(4.5, 2_000), Cap(years=5), TODAY)
    snoozed = put_off(window, Snooze(TODAY + timedelta(days=90), "later", TODAY), TODAY)
    assert (snoozed.window.likely, snoozed.window.status) == (TODAY, "due now")
    assert "was reached" in snoozed.warning


def test_a_risk_limit_cannot_be_put_off_either():
    window = due_window(
        service(4.0), USE, interval(4.5, 2_000, slack=(0.9, 1.0), bound_by="risk"), NO_CAP, TODAY
    )
    snoozed = put_off(window, Snooze(TODAY + timedelta(days=900), "later", TODAY), TODAY)
    assert snoozed.window.likely == window.latest
    assert snoozed.warning


def test_without_a_limit_putting_off_moves_the_day_and_warns_of_nothing():
    window = due_window(service(5.0), USE, interval(4.5, 2_000), NO_CAP, TODAY)
    snoozed = put_off(window, Snooze(TODAY + timedelta(days=500), "parts on order", TODAY), TODAY)
    assert snoozed.window.likely == TODAY + timedelta(days=500)
    assert snoozed.warning == ""
    assert "parts on order" in snoozed.accepted


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"horizon_years": 0}, "horizon_years"),
        ({"horizon_years": -1}, "horizon_years"),
        ({"horizon_years": 10.5}, "horizon_years"),
        ({"horizon_years": math.nan}, "horizon_years"),
        ({"horizon_years": 1.0, "visits_within": 2.0}, "visits_within"),
        ({"open_months": ()}, "open_months"),
        ({"open_months": (13,)}, "open_months"),
    ],
)
def test_bad_horizons_are_refused(arguments, field):
    with pytest.raises(UsageError) as refused:
        plan_car([], USE, TODAY, SHOP, **arguments)
    assert refused.value.field == field


@pytest.mark.parametrize("day", [(2, 29), (13, 1), (4, 31), (0, 0)])
def test_a_season_needs_days_that_every_year_has(day):
    with pytest.raises(UsageError) as refused:
        Season(start=day, end=(10, 1))
    assert refused.value.field == "season.start"


@pytest.mark.parametrize(
    ("until", "reason", "field"), [(TODAY, "  ", "reason"), (date(2020, 1, 1), "why", "until")]
)
def test_a_decision_needs_a_reason_and_a_day_ahead(until, reason, field):
    with pytest.raises(UsageError) as refused:
        Snooze(until, reason, TODAY)
    assert refused.value.field == field
