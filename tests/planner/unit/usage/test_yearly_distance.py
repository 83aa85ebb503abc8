"""A car's yearly distance: robust to a wrong reading, honest with one, aware of lay-ups and of the season."""

from __future__ import annotations

import math
from datetime import date, timedelta

import pytest

from planner.errors import UsageError
from planner.history.odometer import OdometerTrack
from planner.usage import NORTHERN_SEASON, UsagePrior, yearly_distance
from planner.usage.season import day_at, seasonal_years
from planner.usage.slope import robust_slope

TODAY = date(2026, 1, 1)


def track(*points):
    return OdometerTrack.from_km([date.fromisoformat(day) for day, _ in points], [km for _, km in points])


def yearly(first, last, pace, start=0):
    return [(f"{year}-05-01", start + pace * (year - first)) for year in range(first, last + 1)]


def test_one_reading_is_the_prior_and_says_so():
    usage = yearly_distance(track(("2025-05-01", 60_000)), date(2025, 5, 1))
    assert usage.km_per_year == 1_400
    assert usage.low == pytest.approx(1_400 * math.exp(-1.2815515655 * 0.9))
    assert usage.high == pytest.approx(1_400 * math.exp(1.2815515655 * 0.9))
    assert usage.km_at_as_of == 60_000
    assert usage.basis == "one reading: typical for such cars"
    assert usage.from_readings == 0


def test_no_reading_is_the_prior_without_a_place():
    for nothing in (None, track(("2026-05-01", 60_000))):
        usage = yearly_distance(nothing, TODAY)
        assert usage.km_per_year == 1_400
        assert usage.km_at_as_of is None
        assert "no odometer reading" in usage.basis
        with pytest.raises(UsageError, match="odometer reading"):
            usage.km_on(TODAY)


def test_many_readings_say_the_pace_themselves():
    usage = yearly_distance(track(*yearly(2010, 2025, 6_000)), TODAY)
    assert usage.km_per_year == pytest.approx(6_000, rel=0.08)
    assert usage.low < usage.km_per_year < usage.high
    assert usage.basis == "from 16 readings over 15 years"
    assert usage.from_readings > 0.9


def test_more_readings_narrow_the_spread_and_never_to_nothing():
    spreads = [
        math.log(u.high / u.low)
        for u in (yearly_distance(track(*yearly(2025 - n, 2025, 1_400)), TODAY) for n in (1, 3, 10, 40))
    ]
    assert spreads == sorted(spreads, reverse=True)
    assert spreads[-1] > 2 * 1.28 * 0.47 / math.sqrt(3) * 0.99


def test_one_wrong_reading_does_little():
    points = yearly(2012, 2024, 3_000)
    good = yearly_distance(track(*points), TODAY).km_per_year
    points[6] = (points[6][0], points[6][1] + 2_900)
    wrong = yearly_distance(track(*points), TODAY).km_per_year
    assert wrong == pytest.approx(good, rel=0.03)


def test_recent_years_weigh_most():
    daily = yearly(1990, 2005, 15_000)
    retired = yearly(2005, 2025, 2_000, start=daily[-1][1])[1:]
    usage = yearly_distance(track(*daily, *retired), TODAY)
    assert usage.km_per_year == pytest.approx(2_000, rel=0.1)


def test_a_lay_up_is_left_out_and_named():
    usage = yearly_distance(
        track(("2010-05-01", 0), ("2012-05-01", 6_000), ("2018-05-01", 6_100), ("2021-05-01", 15_000)), TODAY
    )
    assert usage.km_per_year == pytest.approx(2_800, rel=0.1)
    assert "6 years of standing left out" in usage.basis
    assert [(lay.start.year, lay.end.year) for lay in usage.lay_ups] == [(2012, 2018)]


def test_a_car_that_stands_is_expected_to_stand_but_may_be_driven_again():
    usage = yearly_distance(
        track(("2010-05-01", 0), ("2012-05-01", 6_000), ("2018-05-01", 6_100)), date(2018, 6, 1)
    )
    assert usage.km_per_year <= 100
    assert usage.high > 2_000
    assert "standing since 2012-05-01" in usage.basis


def test_a_little_driven_winter_is_no_lay_up():
    usage = yearly_distance(
        track(("2020-04-01", 0), ("2020-10-15", 1_500), ("2021-03-20", 1_520)), date(2021, 4, 1)
    )
    assert usage.lay_ups == ()
    assert 1_000 < usage.km_per_year < 2_200


def test_a_summers_driving_is_most_of_a_year():
    """The same 2,000 km from April to October mean less a year than over the twelve months' half they span."""
    summer = yearly_distance(track(("2025-04-01", 0), ("2025-10-01", 2_000)), TODAY)
    winter = yearly_distance(track(("2024-10-01", 0), ("2025-04-01", 2_000)), TODAY)
    assert summer.km_per_year < 2_400 < winter.km_per_year


def test_the_season_is_read_off_a_fuel_log():
    day, km, points = date(2020, 1, 1), 0, []
    while day < date(2025, 12, 1):
        points.append((day.isoformat(), km))
        km += 300 if 6 <= day.month <= 8 else 0
        day += timedelta(days=30)
    season = yearly_distance(track(*points), TODAY).season
    assert sum(season) == pytest.approx(1)
    assert sum(season[5:9]) > 0.75
    assert season[0] < NORTHERN_SEASON[0]


def test_yearly_readings_leave_the_typical_season():
    assert yearly_distance(track(*yearly(2015, 2025, 2_000)), TODAY).season == pytest.approx(NORTHERN_SEASON)


def test_the_future_follows_the_season():
    usage = yearly_distance(track(*yearly(2015, 2025, 2_000)), TODAY)
    spring = usage.km_on(date(2026, 4, 1)) - usage.km_at_as_of
    summer = usage.km_on(date(2026, 7, 1)) - usage.km_on(date(2026, 4, 1))
    assert summer > 3 * spring
    assert usage.km_on(date(2027, 1, 1)) - usage.km_at_as_of == pytest.approx(usage.km_per_year)


def test_the_day_at_a_distance_is_where_the_distance_is_on_that_day():
    usage = yearly_distance(track(*yearly(2015, 2025, 2_000)), TODAY)
    for ahead in (1, 50, 333, 1_999, 12_345):
        day = usage.day_at(usage.km_at_as_of + ahead)
        assert usage.km_on(day) <= usage.km_at_as_of + ahead + 1e-6
        assert usage.km_on(day + timedelta(days=1)) >= usage.km_at_as_of + ahead - 1e-6
    assert usage.day_at(0) == TODAY
    assert usage.day_at(1e12) == date.max
    assert usage.day_at(usage.km_at_as_of + 5_000, usage.high) < usage.day_at(
        usage.km_at_as_of + 5_000, usage.low
    )


def test_readings_after_the_day_are_not_known_yet():
    points = yearly(2015, 2020, 2_000)
    assert yearly_distance(track(*points, ("2025-05-01", 90_000)), date(2021, 1, 1)) == yearly_distance(
        track(*points), date(2021, 1, 1)
    )


def test_another_prior_moves_a_car_with_one_reading():
    usage = yearly_distance(track(("2025-05-01", 60_000)), TODAY, UsagePrior(median=9_000, spread=0.4))
    assert usage.km_per_year == 9_000


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"median": 0}, "median"),
        ({"median": math.nan}, "median"),
        ({"spread": 0}, "spread"),
        ({"spread": math.inf}, "spread"),
        ({"season": (1.0,) * 11}, "season"),
        ({"season": (0.0,) * 12}, "season"),
        ({"season": (math.nan,) * 12}, "season"),
    ],
)
def test_a_prior_without_sense_is_refused(values, field):
    with pytest.raises(UsageError) as refused:
        UsagePrior(**values)
    assert refused.value.field == field


def test_the_plain_case_is_the_weighted_median_of_slopes_by_hand():
    """Three yearly readings, 1,000 then 3,000 km: slopes 1,000 and 3,000 over one year, 2,000 over two. The longest pair
    weighs twice a short one, so the median is its 2,000 (Sen 1968, weighted)."""
    slope = robust_slope(
        track(("2020-05-01", 0), ("2021-05-01", 1_000), ("2022-05-01", 4_000)).points, NORTHERN_SEASON
    )
    assert slope.km_per_year == pytest.approx(2_000)


@pytest.mark.parametrize("day", [date(2024, 2, 29), date(2025, 1, 1), date(2025, 12, 31), date(2025, 7, 14)])
def test_seasonal_time_turns_back_into_its_day(day):
    assert day_at(seasonal_years(day, NORTHERN_SEASON), NORTHERN_SEASON) == day
