"""Default costs and caps of the catalogue's kinds lead to advice that the trade would recognise."""

import math

import pytest

from planner.catalogue import load_catalogue
from planner.errors import CostError
from planner.interval import best_interval, book_cap, default_costs, interval_table
from planner.life.fit import book_life
from planner.life.prior import book_prior

CATALOGUE = load_catalogue()


def advice(name, km_per_year):
    kind = CATALOGUE[name]
    life = book_life(book_prior(kind), seed=1)
    return best_interval(life, default_costs(kind), km_per_year, kind.max_risk, book_cap(kind))


@pytest.mark.parametrize("name", ["distributor_cap", "rotor_arm"])
@pytest.mark.parametrize("km_per_year", [15_000, 20_000])
def test_cap_and_rotor_arm_of_a_much_driven_car_by_64_000_km(name, km_per_year):
    # common practice, no source: cap and rotor arm are renewed by 40,000 miles (64,000 km) at the latest
    rule = advice(name, km_per_year)
    assert rule.bound_by == "cost"
    assert rule.km <= 64_000
    assert rule.wears_most == "distance"


@pytest.mark.parametrize("name", ["condenser", "air_temp_sensor"])
def test_parts_that_fail_at_random_are_run_to_failure_with_a_spare_aboard(name):
    # trade practice: for near-random parts carry a tested spare rather than renew
    assert advice(name, 1_400).run_to_failure


def test_rarely_driven_cars_renew_by_age():
    assert advice("distributor_cap", 1_400).wears_most == "age"


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=lambda kind: kind.id)
def test_every_kind_has_costs_and_an_interval_that_no_cap_is_shorter_than(kind):
    costs = default_costs(kind)
    assert costs.failure >= costs.planned
    assert costs.new_part_fault == kind.new_part_fault
    rule = advice(kind.id, 3_000)
    if kind.cap.years is not None:
        assert rule.years <= kind.cap.years
    if kind.cap.km is not None:
        assert rule.km <= kind.cap.km
    if kind.max_risk is not None and rule.bound_by != "cap":
        assert rule.chance_by_then <= kind.max_risk + 1e-9
    assert rule.cost_per_year > 0
    assert rule.reason.endswith(".")


def test_safety_parts_are_never_run_to_failure():
    kinds = [kind for kind in CATALOGUE.values() if kind.safety]
    assert len(kinds) > 10
    for kind in kinds:
        assert math.isfinite(advice(kind.id, 1_400).years), kind.id


def test_engine_destroying_failures_cost_the_engine():
    belt = default_costs(CATALOGUE["timing_belt"])
    assert belt.failure > 2_500
    assert default_costs(CATALOGUE["timing_belt"], hourly_rate=120).planned > belt.planned


@pytest.mark.parametrize("rate", [0, -60, math.nan, math.inf])
def test_the_hourly_rate_must_be_an_amount(rate):
    with pytest.raises(CostError) as refused:
        default_costs(CATALOGUE["rotor_arm"], hourly_rate=rate)
    assert refused.value.field == "hourly_rate"


def test_a_table_of_a_capped_safety_kind_never_passes_its_cap():
    kind = CATALOGUE["tyres"]
    cap = book_cap(kind)
    table = interval_table(
        book_life(book_prior(kind), seed=1), default_costs(kind), cap=cap, max_risk=kind.max_risk
    )
    assert cap.years is not None
    assert (table.columns([0, 10, 500, 5_000, 80_000]).years <= cap.years).all()


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("brake_fluid", 1.5, 2.0),  # common practice: every two years; a period handbook says 18 months
        ("servo_hose", 5.0, 10.0),  # common practice, no source: with the other vacuum hoses
        ("coolant", 2.0, 4.0),  # common practice, no source: two to four years
        ("timing_belt", 3.0, 6.0),  # common practice, no source: four to five years on a little-driven car
        ("v_belt", 3.0, 5.0),  # a trade council: 3-4 years (catalogue: v_belt)
        ("battery", 3.5, 6.0),  # common practice, no source: four to six years
        ("coolant_hose", 5.0, 10.0),  # common practice, no source
    ],
)
@pytest.mark.parametrize("km_per_year", [2_000, 5_000])
def test_no_mechanic_laughs_at_a_book_interval(name, least, most, km_per_year):
    said = round(advice(name, km_per_year).years * 2) / 2  # in half years, as the trade says it
    assert least <= said <= most
