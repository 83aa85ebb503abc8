"""Two worked cases on invented cars, from the shipped book alone."""

import pytest

from planner.faults.next_step import advise
from planner.faults.suspects import rank
from planner.faults.values import Checked, Renewed
from tests.planner.unit.faults.fault_cars import finding

SENSOR = "cam_hall_sensor"
HOT_CAR = {
    SENSOR: 45, "ignition_coil": 20, "condenser": 6, "ignition_module": 15, "relay": 12, "fuel_pump_electric": 10,
    "fuel_accumulator": 10, "fuel_hose_hp": 5, "coolant_temp_sensor": 12, "rotor_arm": 4, "ht_leads": 5,
}  # fmt: skip
"""Ages in years. Its papers don't say how it is fired, so the lines of every system count."""

DONE = (Renewed(("ignition_coil",)), Renewed(("condenser",)), Checked("fuel_pressure", shows_bad=False))
DAMP_CAR = {"ht_leads": 16, "distributor_cap": 2, "rotor_arm": 2, "spark_plugs_ni": 3, "ignition_coil": 15}


def odds(chance):
    return chance / (1.0 - chance)


def test_a_cuts_out_hot_and_the_aged_trigger_sensor_comes_first():
    before = rank(finding("hot_no_start", HOT_CAR, system=None))
    after = rank(finding("hot_no_start", HOT_CAR, system=None, steps=DONE))
    sensor = after.suspects[0]
    assert sensor.part == SENSOR
    assert before.of(SENSOR).cause < 0.5  # not certain before the checks
    assert before.of(SENSOR).cause < sensor.cause < 0.9  # nor after them
    assert sensor.odds == "about 2 to 1 against"
    assert sensor.car_ratio > 1.3
    assert sensor.reason.startswith("Book alone: about 5 to 1 against; this car's own part had")
    for renewed in ("ignition_coil", "condenser"):
        assert after.of(renewed).renewed
        assert after.of(renewed).cause < 0.05
    assert odds(after.of("fuel_pump_electric").faulty) < odds(before.of("fuel_pump_electric").faulty)


def test_a_with_a_new_sensor_on_the_same_car_something_else_comes_first():
    ranking = rank(finding("hot_no_start", HOT_CAR | {SENSOR: 1}, system=None, steps=DONE))
    assert ranking.suspects[0].part == "ignition_module"
    assert ranking.of(SENSOR).cause < ranking.suspects[0].cause / 2
    assert ranking.of(SENSOR).car_ratio < 0.3


def test_a_the_next_step_is_a_cheap_check_and_no_part_is_to_be_bought_yet():
    advice = advise(finding("hot_no_start", HOT_CAR, system=None, steps=DONE))
    assert advice.step.kind == "check"
    assert advice.step.minutes <= 20
    assert advice.dont_buy_yet
    assert {outcome.ranking.suspects[0].part for outcome in advice.outcomes} <= {*HOT_CAR}


def test_b_misfires_in_damp_with_old_leads_and_a_young_cap_leads_first():
    car = finding("misfire_in_damp", DAMP_CAR, system="points")
    ranking = rank(car)
    assert ranking.suspects[0].part == "ht_leads"
    assert ranking.of("ht_leads").cause > 3 * ranking.of("distributor_cap").cause
    swapped = rank(
        finding("misfire_in_damp", DAMP_CAR | {"ht_leads": 2, "distributor_cap": 16}, system="points")
    )
    assert swapped.suspects[0].part == "distributor_cap"


def test_b_a_mist_test_that_stays_quiet_moves_the_leads_down_by_the_stated_ratio():
    car = finding("misfire_in_damp", DAMP_CAR, system="points")
    quiet = car.after(Checked("mist_in_the_dark", shows_bad=False))
    stated = (1 - 0.70) / 0.92
    for part in ("ht_leads", "distributor_cap", "ignition_coil"):
        reading = next(check for check in car.checks if check.id == "mist_in_the_dark").of(part)
        assert (1 - reading.sensitivity) / reading.specificity == pytest.approx(stated)
        assert rank(quiet).of(part).check_ratio == pytest.approx(stated, rel=1e-12)
    assert rank(quiet).of("ht_leads").cause < rank(car).of("ht_leads").cause
    alone = car.after(Checked("mist_in_the_dark", (("ht_leads", False),)))
    fall = odds(rank(alone).of("ht_leads").faulty) / odds(rank(car).of("ht_leads").faulty)
    assert fall < 0.9
