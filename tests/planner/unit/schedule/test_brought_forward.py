"""A renewal brought forward: what it saves of the planned one, against an integral of the marginal cost."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from planner.interval import Cap
from planner.schedule import due_dates, value_brought_forward
from tests.planner.unit.schedule.test_plan import TODAY, USE, planned

SCALE, AGE = 12.0, 3.0


def value(part, today=TODAY):
    window = due_dates(part.service, USE, part.interval, part.cap).as_of(today)
    return value_brought_forward(part, USE, window, today)


def test_it_is_the_planned_cost_less_what_moving_it_to_today_costs():
    # planned - ∫ over the days left of (g - (cf - cp)·h)·S, with g = (cf - cp)·h on the likely day (Wildeman, Dekker & Smit
    # 1997), by the trapezium rule
    part = planned("cap", SCALE, AGE)
    wait = part.interval.years - AGE
    ahead = np.linspace(0.0, wait, 20_001)
    hazard = 3 * (AGE + ahead) ** 2 / SCALE**3
    survival = np.exp((AGE / SCALE) ** 3 - ((AGE + ahead) / SCALE) ** 3)
    moved = np.trapezoid((hazard[-1] - hazard) * 340 * survival, ahead)
    assert wait > 1.0
    assert value(part) == pytest.approx(60 - moved, rel=0.01)


def test_it_grows_with_age_from_little_to_the_whole_planned_cost():
    parts = [planned("cap", SCALE, age) for age in (0.1, 1.0, 2.0, 3.0, 4.0, 5.0, 9.0)]
    values = [value(part) for part in parts]
    assert values == sorted(values)
    assert 0.0 <= values[0] < 10.0  # a new part serves nearly its whole interval
    assert values[-1] == pytest.approx(60.0)


def test_past_a_limit_all_of_it_is_saved_whatever_the_part_is_worth():
    part = planned("hose", 40.0, 9.0, cap=Cap(years=8))
    assert value(part) == pytest.approx(60.0)
    found_bad = replace(part, cap=Cap(years=9.0))
    assert value(found_bad, TODAY + timedelta(days=1)) == pytest.approx(60.0)
