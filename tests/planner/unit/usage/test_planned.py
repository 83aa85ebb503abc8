"""Tours and lay-ups that a keeper knows of move the days that distance decides, and no hard limit backwards."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from planner.errors import UsageError
from planner.history.odometer import OdometerTrack
from planner.interval import Cap, Costs, interval_table
from planner.life.model import known_life
from planner.schedule import Driven, InService, due_dates, rate_as_planned, rate_on_own_path
from planner.usage import PlannedUse, RoadAhead, yearly_distance
from tests.planner.unit.schedule.schedule_stand_ins import Days, Use, interval

TODAY = date(2026, 3, 1)
JUNE = PlannedUse(date(2026, 6, 1), date(2026, 6, 21), 3_500.0)
WINTER = PlannedUse(date(2026, 10, 1), date(2028, 9, 30), 0.0)


def part(km, *clocks, at=90_000.0):
    """Fitted three years ago, so many km on it now."""
    return InService(
        fitted=Days.on(TODAY - timedelta(days=1096)),
        age_unknown=False,
        fitted_km=(at - km,) * 3,
        clocks=clocks or ("distance",),
    )


def use(rate=1_400.0, plans=()):
    return Use(rate, 0.6 * rate, 1.6 * rate, TODAY, 90_000.0, ahead=RoadAhead(tuple(plans)))


def test_a_tour_brings_the_day_forward_into_itself():
    rule = interval(5.0, 1_400.0)
    usual = due_dates(part(5_000), use(), rule, Cap()).likely
    toured = due_dates(part(5_000), use(plans=[JUNE]), rule, Cap()).likely
    # 7,000 km less 5,000: 2,000 km ahead; 92 days as usual give 353 km, the tour 167 km a day: its tenth day
    assert usual == TODAY + timedelta(days=int(2_000 / 1_400 * 365.25))
    assert toured == date(2026, 6, 10)


def test_a_lay_up_puts_distance_off_and_leaves_age_alone():
    rule = interval(5.0, 1_400.0)
    by_distance = [due_dates(part(5_500), use(plans=plans), rule, Cap()).likely for plans in ((), [WINTER])]
    assert (by_distance[1] - by_distance[0]).days == WINTER.days
    by_age = [due_dates(part(5_500, "age"), use(plans=plans), rule, Cap()).likely for plans in ((), [WINTER])]
    assert by_age[0] == by_age[1]


def test_a_lay_up_moves_no_limit_and_a_tour_brings_it_nearer():
    rule, cap = interval(9.0, 1_400.0), Cap(km=7_000.0)
    usual, standing, toured = (
        due_dates(part(5_500), use(plans=plans), rule, cap) for plans in ((), [WINTER], [JUNE])
    )
    assert standing.limit == usual.limit
    assert toured.limit < usual.limit
    assert max(toured.earliest, toured.likely, toured.latest) <= toured.limit


def test_the_whole_window_moves():
    rule = interval(5.0, 1_400.0)
    usual, toured = (due_dates(part(5_000), use(plans=plans), rule, Cap()) for plans in ((), [JUNE]))
    assert toured.earliest <= usual.earliest
    assert toured.latest < usual.latest


def test_the_odometer_counts_what_was_planned_since_it_was_read():
    track = OdometerTrack.from_km([date(2024, 1, 1), date(2026, 3, 1)], [50_000.0, 53_000.0])
    seen = date(2026, 7, 1)
    usual = yearly_distance(track, seen)
    toured = yearly_distance(track, seen, ahead=RoadAhead((JUNE,)))
    assert toured.km_per_year == usual.km_per_year
    assert 2_900 < toured.km_at_as_of - usual.km_at_as_of < 3_500
    assert not toured.ahead, "a tour that is over is no longer ahead"


def test_days_and_distances_invert_each_other():
    road = RoadAhead((WINTER, JUNE))
    start = float(TODAY.toordinal())
    for km in (1.0, 300.0, 400.0, 3_000.0, 4_200.0, 9_000.0):
        day = float(road.day_after(start, km, 1_400.0))
        assert float(road.km_between(start, day, 1_400.0)) == pytest.approx(km, rel=1e-9)
    assert np.isinf(road.day_after(start, 9_000.0, 0.0))
    usage = replace(yearly_distance(None, TODAY), km_at_as_of=50_000.0, ahead=road)
    day = usage.day_at(52_000.0)
    assert usage.km_on(day) >= 52_000.0 > usage.km_on(day - timedelta(days=1))


def test_a_part_on_two_clocks_is_judged_at_the_pace_of_its_plans():
    table = interval_table(known_life(distance=(2.5, 60_000), age=(2.5, 12)), Costs(40, 400))
    now = {"km": 6_000.0, "years": 2.0}
    toured, usual = (
        Driven(float(TODAY.toordinal()), 90_000.0, 1_400.0, 900.0, 2_200.0, RoadAhead(tuple(plans)) or None)
        for plans in ([JUNE], [])
    )
    plain = float(rate_on_own_path(table, km_per_year=1_400.0, **now))
    assert rate_as_planned(table, use=usual, **now) == plain
    assert rate_as_planned(table, use=toured, **now) > plain


@pytest.mark.parametrize(
    ("starts", "ends", "km", "field"),
    [
        (date(2026, 6, 2), date(2026, 6, 1), 100.0, "ends_on"),
        (date(2026, 6, 1), date(2037, 6, 1), 100.0, "ends_on"),
        (date(2026, 6, 1), date(2026, 6, 2), -1.0, "km"),
        (date(2026, 6, 1), date(2026, 6, 2), float("nan"), "km"),
    ],
)
def test_plans_that_make_no_sense_are_refused(starts, ends, km, field):
    with pytest.raises(UsageError) as refused:
        PlannedUse(starts, ends, km)
    assert refused.value.field == field


def test_two_plans_share_no_day():
    with pytest.raises(UsageError, match="2026-06-21"):
        RoadAhead((JUNE, PlannedUse(date(2026, 6, 21), date(2026, 6, 30), 10.0)))
