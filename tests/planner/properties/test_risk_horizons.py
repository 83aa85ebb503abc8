"""A longer horizon and more kilometres are never safer; neither is an older part that wears."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.life.model import known_life
from planner.risk import Exposure, car_risk, failure_chance

PLAN = settings(max_examples=150, deadline=None)
far = st.floats(0, 300_000)
long = st.floats(0, 60)


@st.composite
def lives(draw, least_log_shape=-0.7):
    scatter = np.random.default_rng(draw(st.integers(0, 99))).uniform(0, 0.8, size=(10, 4))
    middle = [least_log_shape, draw(st.floats(8, 13)), least_log_shape, draw(st.floats(0, 4))]
    return replace(known_life(distance=(2, 60_000), age=(2, 10)), draws=np.array(middle) + scatter)


@PLAN
@given(lives(), far, long, far, long, far, long)
def test_more_ahead_is_never_safer(life, km, years, more_km, more_years, extra_km, extra_years):
    near = failure_chance(life, km=km, years=years, more_km=more_km, more_years=more_years)
    away = failure_chance(
        life, km=km, years=years, more_km=more_km + extra_km, more_years=more_years + extra_years
    )
    for one, other in ((near.mean, away.mean), (near.low, away.low), (near.high, away.high)):
        assert one <= other + 1e-12
    assert 0 <= near.low <= near.high <= 1


@PLAN
@given(lives(least_log_shape=0.0), far, long, far, long, st.floats(0, 20_000), st.floats(0, 3))
def test_older_is_never_safer_where_every_draw_wears(
    life, km, years, older_km, older_years, more_km, more_years
):
    young = failure_chance(life, km=km, years=years, more_km=more_km, more_years=more_years)
    old = failure_chance(
        life, km=km + older_km, years=years + older_years, more_km=more_km, more_years=more_years
    )
    assert young.mean <= old.mean + 1e-9


@PLAN
@given(st.lists(lives(), min_size=1, max_size=5), far, st.floats(0, 5_000), st.floats(0, 1), st.floats(0, 1))
def test_one_more_part_never_makes_a_car_safer(lives_of_parts, km, more_km, more_years, stops):
    parts = [
        Exposure(f"part {i}", f"kind {i}", life, km, 5.0, more_km, more_years, stops_car=stops)
        for i, life in enumerate(lives_of_parts)
    ]
    few, all_of_them = car_risk(parts[:-1]).stop.mean, car_risk(parts).stop.mean
    assert few <= all_of_them + 1e-12
    assert max(chance.mean for _, chance in car_risk(parts).contributors) <= all_of_them + 1e-12
