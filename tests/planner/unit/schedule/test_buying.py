"""Buying a car: what nobody can date is treated as due; chances and costs spread over what may be in service."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.catalogue import load_catalogue
from planner.errors import UsageError
from planner.interval import Costs, best_interval, book_cap, default_costs
from planner.life.fit import book_life
from planner.life.model import known_life
from planner.life.prior import book_prior
from planner.schedule.buying import OfferedPart, buying_list

CAR = {"car_years": 35.0, "car_km": 140_000.0, "km_per_year": 2_000.0}
CATALOGUE = load_catalogue()


def offered(name, pace=4_000.0, **more):
    kind = CATALOGUE[name]
    life, costs = book_life(book_prior(kind), draws=200), default_costs(kind)
    rule = best_interval(life, costs, pace, kind.max_risk, book_cap(kind))
    return OfferedPart(name, name, life, costs, rule, kind.safety, kind.stops_car, **more)


def test_what_nobody_can_date_is_due_safety_first():
    found = buying_list(
        [offered(name) for name in ("rotor_arm", "brake_hose", "tyres", "condenser", "v_belt")], **CAR
    )
    due = [item.name for item in found.items if item.due]
    assert set(due) == {"brake_hose", "tyres", "rotor_arm", "v_belt"}
    assert set(due[:2]) == {"brake_hose", "tyres"}
    assert "carry a spare" in found.items[-1].reason
    assert all("treated as old" in item.reason for item in found.items if item.due)


def test_a_paper_that_dates_a_part_takes_it_off_the_list():
    known = buying_list([offered("tyres", known_years=1.0), offered("v_belt", known_years=9.0)], **CAR)
    assert {item.name: item.due for item in known.items} == {"tyres": False, "v_belt": True}


def test_a_young_car_needs_little():
    young = buying_list(
        [offered("timing_belt", 13_300.0), offered("tyres", 13_300.0)],
        car_years=1.5,
        car_km=20_000,
        km_per_year=2_000,
    )
    assert not any(item.due for item in young.items)
    assert all("younger" in item.reason for item in young.items)


def test_the_chance_is_that_of_parts_found_in_service():
    """Against a stationary renewal process on age: P(fails within 2) = ∫S(a)(1 - S(a+2)/S(a))da / ∫S(a)da."""
    life = known_life(age=(3.0, 8.0))
    costs = Costs(60, 400)
    part = OfferedPart("belt", "belt", life, costs, best_interval(life, costs, 2_000.0))
    found = buying_list([part], car_years=60.0, car_km=60_000.0, km_per_year=2_000.0)
    at = np.linspace(0, 60, 200_001)
    alive = np.exp(-((at / 8.0) ** 3))
    later = np.exp(-(((at + 2) / 8.0) ** 3))
    exact = np.trapezoid(alive - later, at) / np.trapezoid(alive, at)
    assert found.items[0].chance_if_left == pytest.approx(exact, rel=0.01)
    assert found.if_left.mean == pytest.approx(400 * exact, rel=0.01)


def test_doing_the_list_stops_less_and_its_cost_is_known_better():
    names = (
        "rotor_arm",
        "distributor_cap",
        "brake_hose",
        "tyres",
        "v_belt",
        "coolant_hose",
        "battery",
        "fuel_hose_lp",
    )
    found = buying_list([offered(name) for name in names], **CAR)
    assert found.stops_if_done < 0.5 * found.stops_if_left
    assert found.if_done.high - found.if_done.low < found.if_left.high - found.if_left.low
    for cost in (found.if_done, found.if_left):
        assert cost.low < cost.mean < cost.high
    planned = sum(item.cost_now for item in found.items if item.due)
    assert found.if_done.mean > planned
    assert buying_list([offered(name) for name in names], **CAR) == found


def test_no_parts_cost_nothing():
    empty = buying_list([], **CAR)
    assert (empty.items, empty.if_done.high, empty.stops_if_left) == ((), 0.0, 0.0)


@pytest.mark.parametrize("field", ["car_years", "car_km", "km_per_year"])
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_bad_figures_name_their_field(field, value):
    with pytest.raises(UsageError) as refused:
        buying_list([], **(CAR | {field: value}))
    assert refused.value.field == field


def test_two_parts_of_one_name_are_refused():
    part = offered("tyres")
    with pytest.raises(UsageError) as refused:
        buying_list([part, replace(part)], **CAR)
    assert refused.value.field == "parts"
    with pytest.raises(UsageError) as refused:
        buying_list([replace(part, known_years=-1.0)], **CAR)
    assert refused.value.field == "tyres.known_years"
