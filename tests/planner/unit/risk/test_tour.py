"""A tour before and after packages of work, and the spares to carry."""

import math
from dataclasses import replace

import pytest

from planner.catalogue import load_catalogue
from planner.errors import InputError
from planner.life.model import known_life
from planner.risk.exposure import Exposure, failure_chance
from planner.risk.tour import TourPart, ease_at_roadside, tour_risk
from tests.planner.unit.interval.test_best import uncertain_life

OLD_CAP = TourPart(
    "cap", "cap", known_life(distance=(2.4, 90_000), age=(2.0, 12)), 70_000, 14, 0.7, 0.01, 0.9
)
OLD_ARM = TourPart(
    "rotor arm", "arm", known_life(distance=(2.3, 80_000), age=(1.7, 12)), 70_000, 14, 0.9, 0.03, 1.0
)
CONDENSER = TourPart("condenser", "condenser", known_life(age=(1.0, 60)), 20_000, 20, 0.7, 0.05, 0.8)
PUMP = TourPart("water pump", "pump", known_life(distance=(2.7, 170_000), age=(2.3, 21)), 90_000, 12, 0.6)
PARTS = [OLD_CAP, OLD_ARM, CONDENSER, PUMP]


def chance(part, km, days, *, new=False):
    clocks = {"km": 0, "years": 0} if new else {"km": part.km, "years": part.years}
    return part.stops_car * failure_chance(part.life, **clocks, more_km=km, more_years=days / 365.25).mean


def test_before_and_after_are_the_product_of_the_parts():
    tour = tour_risk(PARTS, km=4_000, days=21, packages={"ignition": ["cap", "rotor arm"]})
    single = [chance(part, 4_000, 21) for part in PARTS]
    assert tour.before.stop.mean == pytest.approx(1 - math.prod(1 - p for p in single))
    new = [
        part.stops_car
        * (
            part.new_part_fault
            + (1 - part.new_part_fault) * chance(part, 4_000, 21, new=True) / part.stops_car
        )
        for part in PARTS[:2]
    ]
    after = 1 - math.prod(1 - p for p in [*new, *single[2:]])
    assert tour.packages[0].risk.stop.mean == pytest.approx(after)
    assert tour.packages[0].avoided == pytest.approx(tour.before.stop.mean - after)
    assert "not the day before" in tour.packages[0].note


def test_renewing_a_part_that_fails_at_random_makes_it_worse_and_is_said():
    tour = tour_risk(PARTS, km=4_000, days=21, packages={"condenser": ["condenser"]})
    assert tour.packages[0].avoided < 0
    assert "carry spares" in tour.packages[0].note
    run_in = tour_risk(PARTS, km=4_000, days=21, packages={"condenser": ["condenser"]}, bedded_in=True)
    assert run_in.packages[0].avoided == pytest.approx(0, abs=1e-6)


def test_spares_are_ranked_by_chance_times_ease_and_what_cannot_be_fitted_is_left():
    tour = tour_risk(PARTS, km=4_000, days=21)
    assert [spare.part for spare in tour.spares] == ["rotor arm", "cap", "condenser"]
    for spare in tour.spares:
        part = next(part for part in PARTS if part.name == spare.part)
        assert spare.worth == pytest.approx(part.roadside_ease * chance(part, 4_000, 21))


def test_a_longer_tour_is_never_safer():
    parts = [replace(OLD_CAP, life=uncertain_life()), PUMP]
    means = [
        tour_risk(parts, km=km, days=days).before.stop.mean
        for km, days in ((500, 3), (4_000, 3), (4_000, 40))
    ]
    assert means == sorted(means)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"days": 367}, "days"),
        ({"days": 0}, "days"),
        ({"days": math.nan}, "days"),
        ({"km": -1}, "km"),
        ({"km": math.inf}, "km"),
        ({"packages": {"all": ["gearbox"]}}, "packages.all"),
    ],
)
def test_bad_tours_are_refused(arguments, field):
    with pytest.raises(InputError) as refused:
        tour_risk(PARTS, **{"km": 4_000, "days": 21, **arguments})
    assert refused.value.field == field


def test_two_parts_of_one_name_are_refused():
    with pytest.raises(InputError) as refused:
        tour_risk([PUMP, PUMP], km=1, days=1)
    assert refused.value.field == "parts"


def test_a_part_may_stand_otherwise_than_its_clocks_say():
    life = known_life(age=(2.0, 10.0))
    stands = Exposure("cap", "cap", known_life(age=(1.0, 1.0)), 0.0, 0.0, 0.0, 1.0)
    part = TourPart("cap", "cap", life, 0.0, 5.0, 1.0, standing=stands)
    found = tour_risk([part], km=100, days=365.25, packages={"new cap": ["cap"]})
    assert found.before.stop.mean == pytest.approx(1 - math.exp(-1))
    assert found.packages[0].risk.stop.mean == pytest.approx(1 - math.exp(-0.01))


def test_brakes_are_no_work_for_the_roadside():
    catalogue = load_catalogue()
    assert ease_at_roadside(catalogue["brake_hose"]) == 0
    assert ease_at_roadside(catalogue["clutch"]) == 0
    assert ease_at_roadside(catalogue["rotor_arm"]) > 0.7
    assert ease_at_roadside(catalogue["timing_belt"]) < ease_at_roadside(catalogue["v_belt"])


def test_a_safety_part_is_never_advised_to_be_left():
    good = TourPart("tyre", "tyre", known_life(age=(3.0, 60)), 1_000, 1, 0.5, 0.05)
    for part, said in ((good, "Leave it"), (replace(good, bound=True), "is not left")):
        package = tour_risk([part], km=100, days=7, packages={"new tyre": ["tyre"]}).packages[0]
        assert package.avoided < 0
        assert said in package.note
