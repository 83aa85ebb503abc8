"""Due windows: whichever clock first, a window from uncertain use, never past a limit, words that say why."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from planner.errors import UsageError
from planner.interval import NO_CAP, Cap, Costs, interval_table
from planner.schedule import DueDates, InService, due_dates, due_window, rate_on_own_path
from tests.planner.unit.interval.test_best import uncertain_life
from tests.planner.unit.schedule.schedule_stand_ins import Days, Use, interval, steady

TODAY = date(2026, 3, 1)
FITTED = date(2020, 3, 1)
BOTH = ("distance", "age")


def part(fitted=FITTED, km=50_000.0, clocks=BOTH, *, unknown=False):
    days = fitted if isinstance(fitted, Days) else Days.on(fitted)
    odometer = km if isinstance(km, tuple) else (km, km, km)
    return InService(days, unknown, odometer, clocks)


def years_later(day, years):
    return day + timedelta(days=math.floor(years * 365.25))


def test_the_first_clock_to_be_reached_decides():
    # 2,000 km a year from 50,000 km; 62,000 km now, so 12,000 km and 6 years used
    use = steady(2_000, TODAY, 62_000)
    by_age = due_dates(part(), use, interval(8, 4_000), NO_CAP)
    assert (by_age.likely, by_age.decides) == (years_later(FITTED, 8), "age")
    by_km = due_dates(
        part(), use, interval(10, 1_600), NO_CAP
    )  # 16,000 km: 4,000 left = 2 years; age: 4 left
    assert (by_km.likely, by_km.decides) == (years_later(TODAY, 2), "distance")


@pytest.mark.parametrize(("wears", "decides"), [("age", "age"), ("distance", "distance")])
def test_on_its_own_path_both_clocks_come_together_and_the_one_that_wears_decides(wears, decides):
    dates = due_dates(part(), steady(2_000, TODAY, 62_000), interval(9, 2_000, wears_most=wears), NO_CAP)
    assert (
        abs((dates.likely - years_later(FITTED, 9)).days) <= 1
    )  # both clocks, within the rounding to whole days
    assert dates.decides == decides


def test_a_clock_that_the_part_does_not_run_on_is_no_reason():
    use = steady(2_000, TODAY, 90_000)
    age_only = due_dates(part(clocks=("age",)), use, interval(8, 2_000), NO_CAP)
    assert (age_only.likely, age_only.decides) == (years_later(FITTED, 8), "age")
    km_only = due_dates(part(date(1990, 1, 1), 85_000.0, ("distance",)), use, interval(8, 2_000), NO_CAP)
    assert (km_only.likely, km_only.decides) == (years_later(TODAY, 5.5), "distance")


def test_the_window_opens_at_high_use_and_closes_at_low_use():
    use = Use(2_000, 1_000, 4_000, TODAY, 62_000)
    dates = due_dates(part(clocks=("distance",)), use, interval(10, 2_000, slack=(0.8, 1.5)), NO_CAP)
    assert dates.likely == years_later(TODAY, 4)
    assert dates.earliest == years_later(TODAY, 1)  # 16,000 km at 4,000 a year
    assert dates.latest == years_later(TODAY, 18)  # 30,000 km at 1,000 a year


def test_an_uncertain_fitting_date_widens_the_window():
    known = due_dates(part(clocks=("age",)), steady(2_000, TODAY, 62_000), interval(9, 2_000), NO_CAP)
    about = Days(date(2019, 1, 1), FITTED, date(2021, 6, 1))
    wide = due_dates(part(about, clocks=("age",)), steady(2_000, TODAY, 62_000), interval(9, 2_000), NO_CAP)
    assert wide.likely == known.likely
    assert wide.earliest < known.earliest
    assert wide.latest > known.latest


def test_an_unknown_age_is_treated_as_old():
    possible = Days(date(2001, 1, 1), date(2012, 1, 1), date(2024, 1, 1))
    use = steady(2_000, TODAY, 62_000)
    window = due_window(
        part(possible, (20_000, 40_000, 60_000), unknown=True), use, interval(9, 2_000), NO_CAP, TODAY
    )
    assert (window.status, window.likely) == ("due now", TODAY)
    assert "treated as old" in window.reason
    guessed = due_window(part(possible, (50_000, 55_000, 60_000)), use, interval(20, 2_000), NO_CAP, TODAY)
    assert guessed.status != "due now"


def test_what_is_past_is_due_now_which_is_today():
    window = due_window(part(), steady(2_000, TODAY, 62_000), interval(5, 2_000), NO_CAP, TODAY)
    assert (window.status, window.earliest, window.likely) == ("due now", TODAY, TODAY)
    assert window.reason.startswith("Due now")


def test_status_soon_is_an_open_window_or_a_likely_day_within_a_year():
    use = steady(2_000, TODAY, 62_000)
    open_now = due_window(part(), use, interval(8, 2_000, slack=(0.7, 1.2)), NO_CAP, TODAY)
    near = due_window(part(), use, interval(6.9, 2_000, slack=(0.99, 1.01)), NO_CAP, TODAY)
    far = due_window(part(), use, interval(9, 2_000, slack=(0.9, 1.2)), NO_CAP, TODAY)
    assert (open_now.status, near.status, far.status) == ("soon", "soon", "later")


def test_run_to_failure_has_no_date_unless_a_cap_sets_one():
    endless = interval(math.inf, 2_000, bound_by="run to failure")
    use = steady(2_000, TODAY, 62_000)
    window = due_window(part(), use, endless, NO_CAP, TODAY)
    assert (window.earliest, window.likely, window.latest) == (None, None, None)
    assert (window.status, window.decides) == ("run to failure", "run to failure")
    capped = due_window(part(), use, endless, Cap(years=10), TODAY)
    assert (capped.likely, capped.latest, capped.decides) == (years_later(FITTED, 10),) * 2 + ("cap",)


def test_no_day_is_later_than_the_cap_at_high_use_from_the_earliest_fitting():
    use = Use(2_000, 1_000, 4_000, TODAY, 62_000)
    about = Days(date(2019, 3, 1), FITTED, date(2021, 3, 1))
    by_years = due_dates(part(about, (48_000, 50_000, 52_000)), use, interval(12, 2_000), Cap(years=8))
    assert by_years.limit == by_years.latest == by_years.likely == years_later(date(2019, 3, 1), 8)
    by_km = due_dates(part(about, (48_000, 50_000, 52_000)), use, interval(12, 2_000), Cap(km=18_000))
    assert by_km.limit == by_km.latest == years_later(TODAY, 1)  # 4,000 km left at 4,000 a year
    assert (by_years.decides, by_km.decides) == ("cap", "cap")


def test_a_cap_counts_even_on_a_clock_that_does_not_wear_the_part():
    dates = due_dates(
        part(clocks=("distance",)), steady(2_000, TODAY, 62_000), interval(30, 2_000), Cap(years=7)
    )
    assert (dates.likely, dates.decides) == (years_later(FITTED, 7), "cap")


def test_a_risk_limit_has_no_slack_behind_it():
    rule = interval(8, 2_000, slack=(0.8, 1.0), bound_by="risk")
    dates = due_dates(part(), Use(2_000, 500, 4_000, TODAY, 62_000), rule, NO_CAP)
    assert dates.latest == dates.likely
    assert 0 <= (years_later(FITTED, 8) - dates.likely).days <= 1
    assert dates.decides == "risk limit"


def test_a_car_that_stands_still_only_ages():
    dates = due_dates(part(), Use(0, 0, 0, TODAY, 50_000), interval(9, 0), NO_CAP)
    assert (dates.likely, dates.decides) == (years_later(FITTED, 9), "age")
    km_only = part(clocks=("distance",))
    assert due_dates(km_only, Use(0, 0, 0, TODAY, 50_000), interval(math.inf, 0), NO_CAP).likely is None


def test_without_any_odometer_reading_the_distance_is_what_such_a_car_does():
    unread = Use(2_000, 1_000, 4_000, TODAY, None)
    dates = due_dates(
        part(clocks=("distance",)), unread, interval(10, 2_000, slack=(0.8, 1.5)), Cap(km=40_000)
    )
    assert abs((dates.likely - years_later(FITTED, 10)).days) <= 1
    assert abs((dates.limit - years_later(FITTED, 10)).days) <= 1  # 40,000 km at 4,000 a year, from fitting
    assert dates.earliest <= TODAY


def test_words_name_months_when_near_and_years_when_far():
    use = steady(2_000, TODAY, 62_000)
    near = due_window(part(), use, interval(8, 2_000), NO_CAP, TODAY).reason
    far = due_window(part(), use, interval(20, 2_000), NO_CAP, TODAY).reason
    assert "about February 2028" in near
    assert "about 2040" in far
    assert due_window(part(), use, interval(90, 2_000), NO_CAP, TODAY).reason.startswith(
        "Nothing to do for decades"
    )
    assert "no evidence lengthens" in due_window(part(), use, interval(8, 2_000), Cap(years=6), TODAY).reason


@pytest.mark.parametrize(
    ("fitted", "km", "clocks", "field"),
    [
        (Days(TODAY, FITTED, TODAY), (1, 1, 1), BOTH, "fitted"),
        (Days.on(FITTED), (3, 2, 1), BOTH, "fitted_km"),
        (Days.on(FITTED), (1, 1, math.nan), BOTH, "fitted_km"),
        (Days.on(FITTED), (1, 1, 1), (), "clocks"),
        (Days.on(FITTED), (1, 1, 1), ("hours",), "clocks"),
    ],
)
def test_a_malformed_part_is_refused(fitted, km, clocks, field):
    with pytest.raises(UsageError) as refused:
        InService(fitted, age_unknown=False, fitted_km=km, clocks=clocks)
    assert refused.value.field == field


def test_a_part_is_judged_on_its_own_path_not_on_todays_use():
    # 16,000 km in two years, then a quieter life of 1,400 km a year: today's path alone would call it due at once
    table = interval_table(uncertain_life(), Costs(60, 340))
    use = steady(1_400, TODAY, 66_000)
    young = part(date(2024, 3, 1), 50_000.0)
    on_todays_path = due_dates(young, use, table.at(1_400), NO_CAP)
    assert on_todays_path.likely <= TODAY
    own = float(rate_on_own_path(table, km=16_000, years=2, km_per_year=1_400))
    assert 1_400 < own < 8_000
    dates = due_dates(young, use, table.at(own), NO_CAP)
    unused = due_dates(part(date(2024, 3, 1), 63_200.0), use, table.at(1_400), NO_CAP)
    assert TODAY < dates.likely < unused.likely


def test_the_own_path_meets_the_best_renewal_of_its_own_rate():
    table = interval_table(uncertain_life(), Costs(60, 340))
    km, years, rate = (
        np.array([0.0, 16_000, 3_000, 90_000]),
        np.array([0.0, 2, 9, 3]),
        np.array([900.0, 1_400, 9e3, 0]),
    )
    own = rate_on_own_path(table, km=km, years=years, km_per_year=rate)
    best = table.columns(own).years
    wait = best - years
    assert (wait > 0).tolist() == [True, True, True, False]
    # to the half percent that a table is interpolated to
    assert (km + rate * wait)[:3] == pytest.approx((own * best)[:3], rel=5e-3)
    assert own[3] == pytest.approx(30_000)


def test_a_part_that_reaches_a_limit_before_it_fails_is_spoken_of_so():
    day = date(2027, 5, 1)
    failing = DueDates(day, day, day, None, "risk limit")
    reaching = replace(failing, to_a_limit=True)
    assert "chance of having failed since fitting is above" in failing.as_of(date(2026, 1, 1)).reason
    assert (
        "chance of having reached its wear limit since fitting is above"
        in reaching.as_of(date(2026, 1, 1)).reason
    )
    assert (
        "reached its wear limit since fitting has reached the limit"
        in reaching.as_of(date(2028, 1, 1)).reason
    )
    never = DueDates(None, None, None, None, "run to failure", to_a_limit=True)
    assert never.as_of(day).reason == (
        "Renewing it before it reaches its limit doesn't pay: check it and use it until then."
    )
