"""What must hold of any car's usage: positive, in order, the same in any unit, never running backwards."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.history.odometer import OdometerTrack
from planner.usage import yearly_distance

START = date(1995, 1, 1)
STEPS = st.lists(st.tuples(st.integers(0, 900), st.floats(0, 30_000)), min_size=0, max_size=15)


def track(steps, scale=1.0):
    days = [START + timedelta(days=int(n)) for n in np.cumsum([0, *[days for days, _ in steps]])]
    return OdometerTrack.from_km(days, scale * np.cumsum([1_000.0, *[km for _, km in steps]]))


@settings(max_examples=200, deadline=None)
@given(STEPS, st.integers(0, 6_000))
def test_low_likely_and_high_stand_in_order_above_zero(steps, later):
    made = track(steps)
    usage = yearly_distance(made, made.last[0] + timedelta(days=later))
    assert 0 < usage.low <= usage.km_per_year <= usage.high
    assert np.isfinite(usage.high)
    assert usage.km_at_as_of >= made.last[1]
    assert abs(sum(usage.season) - 1.0) < 1e-9
    assert usage.basis


@settings(max_examples=200, deadline=None)
@given(STEPS, st.lists(st.integers(0, 9_000), min_size=2, max_size=6))
def test_the_distance_ahead_never_runs_backwards(steps, ahead):
    made = track(steps)
    usage = yearly_distance(made, made.last[0])
    km = [usage.km_on(made.last[0] + timedelta(days=n)) for n in sorted(ahead)]
    assert all(np.diff(km) >= 0)


@settings(max_examples=200, deadline=None)
@given(STEPS, st.floats(0, 200_000))
def test_the_day_at_a_distance_lies_where_the_distance_says(steps, ahead):
    made = track(steps)
    usage = yearly_distance(made, made.last[0])
    day = usage.day_at(usage.km_at_as_of + ahead)
    if day < date(9998, 1, 1):
        assert usage.km_on(day) <= usage.km_at_as_of + ahead + 1e-6
        assert usage.km_on(day + timedelta(days=1)) >= usage.km_at_as_of + ahead - 1e-6
