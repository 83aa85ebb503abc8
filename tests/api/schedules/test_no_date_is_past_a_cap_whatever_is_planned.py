"""The whole chain of a forecast: no day past a hard cap or risk limit, for any life, cost, use, plan, sale, rate or snooze."""

import math
from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from api.bridge.forecasts.clocks import Counted
from api.bridge.forecasts.measured import OnPath
from api.bridge.forecasts.one_part import OwnCar, worked_out
from planner.interval import Cap, Costs, interval_table, shortest
from planner.interval.optimum import latest_allowed
from planner.life.model import known_life
from planner.schedule import InService, Snooze, due_dates, put_off
from planner.usage import PlannedUse, RoadAhead, Usage

TODAY = date(2026, 3, 1)
SHORT = settings(max_examples=25, deadline=None)


@st.composite
def lives(draw):
    middle = [
        draw(st.floats(-0.6, 1.8)),
        draw(st.floats(8, 13)),
        draw(st.floats(-0.6, 1.8)),
        draw(st.floats(0, 4)),
    ]
    scatter = np.random.default_rng(draw(st.integers(0, 99))).normal(size=(8, 4)) * 0.4
    return replace(known_life(distance=(2.0, 60_000.0), age=(2.0, 10.0)), draws=np.array(middle) + scatter)


@st.composite
def roads(draw):
    """Tours and lay-ups, one after the other."""
    plans, at = [], TODAY - timedelta(days=draw(st.integers(0, 60)))
    for _ in range(draw(st.integers(0, 3))):
        start = at + timedelta(days=draw(st.integers(0, 300)))
        end = start + timedelta(days=draw(st.integers(0, 1_000)))
        plans.append(PlannedUse(start, end, draw(st.just(0.0) | st.floats(0, 30_000))))
        at = end + timedelta(days=1)
    return RoadAhead(tuple(plans))


@st.composite
def parts(draw):
    days = sorted(draw(st.integers(0, 9_000)) for _ in range(3))
    early, likely, late = (TODAY - timedelta(days=day) for day in reversed(days))
    km = tuple(sorted(draw(st.floats(0, 90_000)) for _ in range(3)))
    unknown = draw(st.booleans())
    shares = (0.0, 0.0) if unknown else (draw(st.floats(0, 0.9)), draw(st.just(0.0) | st.floats(0, 0.9)))
    off = shares[0] * (90_000 - km[1]), shares[1] * (TODAY - likely).days / 365.25
    return Counted(early, likely, late, km, age_unknown=unknown, set_back=off)


@st.composite
def uses(draw):
    rate = draw(st.sampled_from([60.0, 900.0, 1_400.0, 7_000.0, 25_000.0]))
    low, high = rate * draw(st.floats(0.1, 1)), rate * draw(st.floats(1, 4))
    km = 90_000.0 + draw(st.floats(0, 60_000))
    return Usage(rate, low, high, TODAY, km, "test", ahead=draw(roads()))


caps = st.builds(Cap, km=st.none() | st.floats(500, 200_000), years=st.none() | st.floats(0.3, 30))
cases = st.tuples(
    lives(), parts(), uses(), caps, caps, st.floats(1, 60), st.none() | st.floats(0.05, 0.5),
    st.none() | st.integers(1, 3_000), st.sampled_from([0.0, 0.03, 0.3]), st.booleans(), st.integers(0, 4_000),
)  # fmt: skip


COARSE, FINER = (100.0, 1_500.0, 30_000.0), (60.0, 150.0, 400.0, 1_000.0, 2_500.0, 7_000.0, 30_000.0)
"""Yearly distances of tables: few, so that a case is quick."""


def force(life, costs, cap, max_risk, discount, *, safety, rates=COARSE):
    table = interval_table(life, costs, cap=cap, max_risk=max_risk, rates=rates, discount=discount)
    terms = SimpleNamespace(costs=costs, discount=discount, max_risk=max_risk)
    return SimpleNamespace(
        life=life, table=table, terms=terms, kind=SimpleNamespace(safety=safety), own_car=None
    )


def last_allowed(part, use, cap):
    """The day of the cap as if nothing were planned, reckoned on its own: plans may bring it nearer, never put it off."""
    day = math.inf if cap.years is None else part.earliest.toordinal() + cap.years * 365.25
    if cap.km is None:
        return day
    left = cap.km - (use.km_at_as_of - part.km[0])
    return min(day, use.as_of.toordinal() + max(0.0, left) / max(use.high, use.km_per_year) * 365.25)


def check(case):
    life, part, use, cap, own, ratio, max_risk, sale, discount, safety, snoozed = case
    whole, its = shortest(cap, own), OwnCar(None if sale is None else TODAY + timedelta(days=sale))
    costs = Costs(10, 10 * ratio)
    found = worked_out(part, use, force(life, costs, cap, max_risk, discount, safety=safety), whole, its)
    interval, dates = found.interval, found.due
    limit = last_allowed(part, use, whole)
    if whole.years is not None:
        assert interval.years <= whole.years * (1 + 1e-9)
    window = dates.as_of(TODAY)
    put = put_off(window, Snooze(TODAY + timedelta(days=snoozed), "no time", TODAY), TODAY).window
    if math.isfinite(limit):
        last = max(limit, TODAY.toordinal())
        for shown in (dates, window, put):
            for day in (shown.earliest, shown.likely, shown.latest):
                assert day is not None
                assert day.toordinal() <= last
    if dates.likely is not None:
        assert dates.earliest <= dates.likely <= (dates.latest or date.max)
    rate = interval.km_per_year or 100.0
    risk = force(life, costs, Cap(), max_risk, discount, safety=safety).table.limit_at(rate)[0]
    if max_risk is not None and math.isfinite(risk):
        exact = latest_allowed(
            life, costs, rate, max_risk, Cap()
        ).years  # a sale is planned by the life, not by its table
        assert interval.years <= max(risk, exact) * (1 + 1e-6)


@SHORT
@given(cases)
def test_no_day_is_past_a_limit(case):
    check(case)


@pytest.mark.full
@pytest.mark.timeout(3_600)
@settings(max_examples=10_000, deadline=None)
@given(cases)
def test_no_day_is_past_a_limit_in_ten_thousand_cases(case):
    check(case)


@SHORT
@given(
    lives(), parts(), uses(), caps, st.floats(1, 60), st.none() | st.floats(0.05, 0.5), st.floats(0.05, 20)
)
def test_no_measurement_puts_a_part_past_a_limit(life, part, use, cap, ratio, max_risk, longer):
    """Where its own wear would leave it `longer` lives than such parts have, or a fraction of one."""
    under = force(life, Costs(10, 10 * ratio), cap, max_risk, 0.0, safety=True)
    clock = life.clocks[0]
    reached = part.clocks_on(TODAY, use.km_on(TODAY))[0 if clock == "distance" else 1]
    usual = (life.distance if clock == "distance" else life.age).scale
    points = tuple(reached * 1.02 + longer * usual * (0.8 + 0.02 * place) for place in range(20))
    path = OnPath([], clock, points, "", TODAY, reached)
    own = worked_out(part, use, under, cap, OwnCar(path=path)).due
    limit = last_allowed(part, use, cap)
    if math.isfinite(limit):
        for day in (own.earliest, own.likely, own.latest):
            assert day is not None
            assert day.toordinal() <= max(limit, TODAY.toordinal())


@SHORT
@given(lives(), parts(), uses(), caps, st.floats(2, 60), st.none() | st.floats(0.05, 0.5))
def test_a_repair_puts_off_what_cost_decided_and_never_a_limit(life, part, use, cap, ratio, max_risk):
    under = force(life, Costs(10, 10 * ratio), cap, max_risk, 0.0, safety=False)
    as_old = replace(part, set_back=(0.0, 0.0))
    plain, repaired = (worked_out(one, use, under, cap, OwnCar()) for one in (as_old, part))
    assert repaired.interval == plain.interval
    assert repaired.due.limit == plain.due.limit
    if plain.interval.bound_by != "cost":
        assert repaired.due == plain.due
    limit = latest_allowed(life, under.terms.costs, plain.interval.km_per_year, max_risk, Cap()).years
    if math.isfinite(limit) and repaired.due != plain.due:
        rate = plain.interval.km_per_year
        last = replace(plain.interval, years=limit, km=rate * limit, within_5_percent=(limit, limit))
        service = InService(as_old, as_old.age_unknown, as_old.km, life.clocks)
        assert repaired.due.likely <= due_dates(service, use, last, Cap()).likely + timedelta(days=2)


@SHORT
@given(lives(), parts(), uses(), caps, st.floats(2, 60), st.integers(1, 2_000))
def test_a_sale_or_a_plan_never_moves_a_safety_parts_day_past_the_one_without_a_sale(
    life, part, use, cap, ratio, sale
):
    under = force(life, Costs(10, 10 * ratio), cap, 0.2, 0.0, safety=True)
    sold = worked_out(part, use, under, cap, OwnCar(TODAY + timedelta(days=sale)))
    assert sold == worked_out(part, use, under, cap, OwnCar())


@SHORT
@given(lives(), parts(), uses(), caps, st.floats(2, 60), st.none() | st.floats(0.05, 0.4))
def test_an_unknown_fitting_day_is_never_due_later_than_a_recent_one(life, part, use, cap, ratio, max_risk):
    under = force(life, Costs(10, 10 * ratio), cap, max_risk, 0.0, safety=False, rates=FINER)
    recent = Counted(part.latest, part.latest, part.latest, (part.km[2],) * 3, age_unknown=False)
    unknown = worked_out(replace(part, age_unknown=True), use, under, cap, OwnCar()).due
    known = worked_out(recent, use, under, cap, OwnCar()).due
    if known.likely is not None and unknown.likely is not None:
        slack = timedelta(
            days=1 + round(0.05 * max(0, (known.likely - TODAY).days))
        )  # the table's grid is coarser here than in use
        # what lies back is due now, however far back
        assert max(unknown.likely, TODAY) <= max(known.likely, TODAY) + slack
    if unknown.limit is not None:
        assert known.limit is None or unknown.limit <= known.limit
