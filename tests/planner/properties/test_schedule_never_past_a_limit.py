"""Whatever the evidence, costs and use: caps hold, older and more used is never later, unknown is never younger."""

import math
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.interval import Cap, Costs, best_interval
from planner.life.model import known_life
from planner.schedule import (
    DECIDERS,
    Driven,
    Fitted,
    InService,
    Rules,
    Snooze,
    due_dates,
    due_days,
    due_window,
    put_off,
)
from tests.planner.unit.schedule.schedule_stand_ins import Days, Use, interval

TODAY = date(2026, 3, 1)
PLAN = settings(max_examples=200, deadline=None)

amounts = st.floats(0.2, 40)
rates = st.sampled_from([0.0, 60.0, 900.0, 1_400.0, 7_000.0, 25_000.0])


@st.composite
def cars(draw):
    """(part, use): a part with uncertain fitting on a car with uncertain use."""
    days = sorted(draw(st.integers(0, 14_000)) for _ in range(3))
    fitted = Days(*(TODAY - timedelta(days=day) for day in reversed(days)))
    odometer = tuple(sorted(draw(st.floats(0, 90_000)) for _ in range(3)))
    rate = draw(rates)
    use = Use(
        rate,
        rate * draw(st.floats(0.1, 1)),
        rate * draw(st.floats(1, 5)),
        TODAY,
        90_000 + draw(st.floats(0, 60_000)),
    )
    clocks = draw(st.sampled_from([("distance",), ("age",), ("distance", "age")]))
    return InService(fitted, draw(st.booleans()), odometer, clocks), use


@st.composite
def lives(draw):
    """Two-clock lives with draws, from sharp to infant, short to endless."""
    middle = [
        draw(st.floats(-0.6, 1.8)),
        draw(st.floats(8, 13)),
        draw(st.floats(-0.6, 1.8)),
        draw(st.floats(0, 4)),
    ]
    scatter = np.random.default_rng(draw(st.integers(0, 99))).normal(size=(12, 4)) * 0.4
    known = known_life(distance=(2.0, 60_000.0), age=(2.0, 10.0))
    return replace(known, draws=np.array(middle) + scatter)


caps = st.builds(Cap, km=st.none() | st.floats(500, 200_000), years=st.none() | st.floats(0.3, 30))


def last_allowed(part, use, cap):
    """The day of the cap, reckoned on its own."""
    day = math.inf
    if cap.years is not None:
        day = part.fitted.earliest.toordinal() + cap.years * 365.25
    if cap.km is not None:
        left = cap.km - (use.km_at_as_of - part.fitted_km[0])
        if left <= 0:
            day = min(day, use.as_of.toordinal())
        elif use.high > 0:
            day = min(day, use.as_of.toordinal() + left / use.high * 365.25)
    return day


@PLAN
@given(cars(), lives(), caps, st.floats(1, 60), st.none() | st.floats(0.05, 0.5), st.integers(0, 2_000))
def test_no_date_is_past_a_cap(car, life, cap, ratio, max_risk, later):
    part, use = car
    rule = best_interval(life, Costs(10, 10 * ratio), use.km_per_year, max_risk, cap)
    dates, limit = due_dates(part, use, rule, cap), last_allowed(part, use, cap)
    today = TODAY + timedelta(days=later)
    window = dates.as_of(today)
    if math.isfinite(limit):
        for day in (dates.earliest, dates.likely, dates.latest):
            assert day is not None
            assert day.toordinal() <= limit
        put = put_off(window, Snooze(today + timedelta(days=later * 5), "no time", today), today)
        for shown in (window, put.window):
            for day in (shown.earliest, shown.likely, shown.latest):
                assert day <= max(today, dates.limit)
        if later * 5 > 0 and today + timedelta(days=later * 5) > dates.limit:
            assert put.warning
        if cap.years is not None and use.km_per_year > 0:
            assert rule.years <= cap.years
    if dates.likely is not None:
        assert dates.earliest <= dates.likely
        assert dates.latest is None or dates.likely <= dates.latest


@PLAN
@given(cars(), amounts, caps, st.integers(0, 5_000), st.floats(0, 30_000))
def test_older_or_further_is_never_later(car, years, cap, days, km):
    part, use = car
    rule = interval(years, use.km_per_year)
    older = Days(
        *(
            day - timedelta(days=days)
            for day in (part.fitted.earliest, part.fitted.likely, part.fitted.latest)
        )
    )
    assert_not_later(due_dates(replace(part, fitted=older), use, rule, cap), due_dates(part, use, rule, cap))
    further = replace(use, km_at_as_of=use.km_at_as_of + km)
    assert_not_later(due_dates(part, further, rule, cap), due_dates(part, use, rule, cap))


@PLAN
@given(cars(), amounts, caps, st.floats(1, 4))
def test_driving_more_from_here_is_never_later(car, years, cap, factor):
    part, use = car
    more = replace(use, km_per_year=use.km_per_year * factor, low=use.low * factor, high=use.high * factor)
    rule = interval(years, use.km_per_year)
    # seen from the day of the odometer: how long ago a passed limit was reached is no matter of what comes
    seen = [due_dates(part, driven, rule, cap).as_of(use.as_of) for driven in (more, use)]
    assert_not_later(*seen)


@PLAN
@given(cars(), amounts, caps)
def test_an_unknown_fitting_date_never_lengthens_the_time_left(car, years, cap):
    part, use = car
    rule = interval(years, use.km_per_year)
    recent = replace(
        part, age_unknown=False, fitted=Days.on(part.fitted.latest), fitted_km=(part.fitted_km[2],) * 3
    )
    assert_not_later(
        due_dates(replace(part, age_unknown=True), use, rule, cap), due_dates(recent, use, rule, cap)
    )


@PLAN
@given(cars(), amounts, st.integers(1, 3_000))
def test_surviving_never_moves_a_risk_capped_due_day_later(car, years, days):
    part, use = car
    rule = interval(years, use.km_per_year, slack=(0.9, 1.0), bound_by="risk")
    # the same car seen later, having done exactly what was expected of it, the part still good
    later = replace(
        use,
        as_of=use.as_of + timedelta(days=days),
        km_at_as_of=use.km_at_as_of + use.km_per_year * days / 365.25,
    )
    before, after = due_dates(part, use, rule, Cap()), due_dates(part, later, rule, Cap())
    if before.likely is not None and before.likely > later.as_of:
        assert abs((after.likely - before.likely).days) <= 1
    elif before.likely is not None:
        assert after.as_of(later.as_of).status == "due now"


def test_arrays_agree_with_single_parts():
    generator = np.random.default_rng(7)
    n = 300
    ages = np.sort(generator.integers(0, 9_000, (3, n)), axis=0)[::-1]
    km = np.sort(generator.uniform(0, 60_000, (3, n)), axis=0)
    rate = generator.choice([0.0, 500.0, 4_000.0], n)
    years = generator.uniform(0.5, 30, n)
    unknown = generator.random(n) < 0.3
    at_cap, at_risk = generator.random(n) < 0.1, generator.random(n) < 0.1
    cap_years = np.where(generator.random(n) < 0.5, generator.uniform(1, 20, n), np.inf)
    today = float(TODAY.toordinal())
    days = due_days(
        Fitted(today - ages[0], today - ages[1], today - ages[2], *km, unknown, by_distance=True, by_age=True),
        Driven(today, 70_000.0, rate, 0.5 * rate, 2 * rate),
        Rules(
            np.where(rate > 0, rate * years, np.nan), years, 0.7 * years, 1.4 * years, at_risk & ~at_cap, at_cap, distance_wears_most=False,
            cap_years=cap_years,
        ),
    )  # fmt: skip
    for i in range(n):
        fitted = Days(*(TODAY - timedelta(days=int(ages[j, i])) for j in range(3)))
        bound = "cap" if at_cap[i] else ("risk" if at_risk[i] else "cost")
        one = due_window(
            InService(fitted, bool(unknown[i]), tuple(km[:, i]), ("distance", "age")),
            Use(rate[i], 0.5 * rate[i], 2 * rate[i], TODAY, 70_000.0),
            interval(years[i], rate[i], bound_by=bound),
            Cap(years=None if math.isinf(cap_years[i]) else cap_years[i]),
            TODAY,
        )
        assert one.likely == max(TODAY, date.fromordinal(math.floor(days.likely[i])))
        assert one.latest == max(TODAY, date.fromordinal(math.floor(days.latest[i])))
        assert one.earliest == max(TODAY, date.fromordinal(math.floor(days.earliest[i])))
        passed = math.floor(days.limit[i]) <= today if math.isfinite(days.limit[i]) else False
        assert one.decides == ("cap" if passed else DECIDERS[days.decides[i]])


def assert_not_later(first, second):
    for name in ("earliest", "likely", "latest"):
        one, other = getattr(first, name), getattr(second, name)
        if other is not None:
            assert one is not None
            assert one <= other, name


@pytest.mark.full
@settings(max_examples=10_000, deadline=None)
@given(cars(), lives(), caps, st.floats(1, 60), st.none() | st.floats(0.05, 0.5), st.integers(0, 2_000))
def test_no_date_is_past_a_cap_in_ten_thousand_cases(car, life, cap, ratio, max_risk, later):
    test_no_date_is_past_a_cap.hypothesis.inner_test(car, life, cap, ratio, max_risk, later)
