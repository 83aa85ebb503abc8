"""What lies behind: a passed limit says so, and a passed interval does not move with the day of the odometer."""

from datetime import date, timedelta

import numpy as np

from planner.schedule import DueDates
from planner.schedule.arithmetic import Driven, reached_on

TODAY = date(2026, 6, 1)


def test_a_passed_limit_decides_and_is_said_whatever_the_cost_says():
    before = TODAY - timedelta(days=400)
    dates = DueDates(before, before, before, TODAY - timedelta(days=20), "age")
    assert dates.as_of(TODAY).decides == "cap"
    assert "limit of maker or authority" in dates.as_of(TODAY).reason
    earlier = dates.as_of(TODAY - timedelta(days=60))
    assert earlier.decides == "age"
    assert "limit of maker" not in earlier.reason


def test_a_distance_passed_lies_back_at_the_same_rate():
    use = Driven(as_of=739_000.0, km=60_000.0, km_per_year=10_000.0, low=8_000.0, high=12_000.0)
    day = reached_on(use, fitted_km=30_000.0, km=20_000.0, rate=10_000.0)
    assert day == 739_000.0 - 365.25
    half_a_year_on = Driven(739_000.0 + 182.625, 65_000.0, 10_000.0, 8_000.0, 12_000.0)
    assert reached_on(half_a_year_on, fitted_km=30_000.0, km=20_000.0, rate=10_000.0) == day


def test_on_a_car_that_stands_still_it_counts_as_reached_on_the_day_of_the_odometer():
    use = Driven(as_of=739_000.0, km=60_000.0, km_per_year=0.0, low=0.0, high=0.0)
    assert reached_on(use, fitted_km=30_000.0, km=20_000.0, rate=0.0) == 739_000.0
    assert np.isinf(reached_on(use, fitted_km=30_000.0, km=40_000.0, rate=0.0))
