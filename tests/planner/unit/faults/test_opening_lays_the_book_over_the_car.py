"""From complaint and parts to suspects: shares, mean lives, conditions, checks of the system, and refusals."""

import math
from dataclasses import replace

import numpy as np
import pytest

from planner.catalogue import load_catalogue, load_checks, load_complaints, load_conditions
from planner.faults.book import CLEAREST_SIGN, LEAST_HAZARD, book_hazard, book_rates, mean_life
from planner.faults.errors import FaultError, PartNotOnCar
from planner.faults.next_step import advise
from planner.faults.opening import Book, PartOnCar, accrued_hazard, open_finding
from planner.faults.suspects import rank
from planner.faults.unknown_age import accrued_of_unknown_age, possible_days
from planner.faults.values import Checked, Renewed
from planner.life.model import known_life
from tests.planner.unit.faults.fault_cars import KM_PER_YEAR, finding, part

CAR = {"ht_leads": 6, "distributor_cap": 6, "rotor_arm": 6, "spark_plugs_ni": 3, "ignition_coil": 10}


def test_the_mean_life_is_that_of_a_weibull_clock():
    hose = load_catalogue()["fuel_hose_lp"]
    assert hose.distance is None
    shape = math.log(math.log(2) / -math.log(0.9)) / math.log(hose.age.p50 / hose.age.p10)
    scale = hose.age.p50 / math.log(2) ** (1 / shape)
    assert mean_life(hose) == pytest.approx(scale * math.gamma(1 + 1 / shape), rel=1e-5)


def test_two_clocks_live_shorter_than_either_and_shorter_on_a_much_driven_car():
    cap = load_catalogue()["distributor_cap"]
    assert mean_life(cap, 20_000.0) < mean_life(cap, 2_000.0) < cap.age.p50 * 1.2


def test_average_parts_give_back_the_book_s_shares():
    kinds = load_catalogue()
    shares = load_complaints()["misfire_in_damp"].shares("points", CAR)
    rates = book_rates(shares, 0.07, kinds)
    assert max(rates.shows.values()) == pytest.approx(CLEAREST_SIGN)
    implied = {kind: rates.shows[kind] / mean_life(kinds[kind]) for kind in shares}
    total = sum(implied.values()) + rates.something_else_per_year
    for kind, share in shares.items():
        assert implied[kind] / total == pytest.approx(share / (sum(shares.values()) + 0.07))
    assert rates.something_else(0.5) == pytest.approx(1 - math.exp(-0.5 * rates.something_else_per_year))


def test_a_condition_multiplies_odds_by_its_ratio_unless_the_complaint_holds_it_already():
    plain = finding("misfire_under_load", CAR, system="points")
    damp = finding("misfire_under_load", CAR, system="points", noticed=("damp",))
    same = finding("misfire_under_load", CAR, system="points", noticed=("under load",))
    assert [c.share for c in same.candidates] == [c.share for c in plain.candidates]

    def weight(f, kind):
        return next(c.share for c in f.candidates if c.part == kind) / math.log1p(-f.something_else)

    ratios = load_conditions()["damp"].ratios
    for kind in CAR:
        assert weight(damp, kind) / weight(plain, kind) == pytest.approx(ratios.get(kind, 1.0))


def test_only_checks_of_the_car_s_system_that_look_at_a_suspect_are_at_hand():
    points = {check.id for check in finding("hot_no_start", {"condenser": 5}, system="points").checks}
    assert "condenser_swap" in points
    assert not points & {
        "fuel_pressure",
        "tacho_while_cranking",
        "trial_renewal",
        "block_gas",
        "tread_and_date",
    }
    pressure = (Checked("fuel_pressure", shows_bad=True),)
    with pytest.raises(PartNotOnCar, match="a check that applies to this car"):
        rank(finding("hot_no_start", {"condenser": 5}, system="points", steps=pressure))


def test_several_kinds_give_one_result_and_few_parts_of_a_kind_are_told_apart():
    damp = {check.id: check for check in finding("misfire_in_damp", CAR, system="points").checks}
    assert damp["light_on_king_lead"].one_result
    assert not damp["mist_in_the_dark"].one_result  # sparks are seen where they jump
    assert not damp["cap_look"].one_result


BARRED = {
    "misfire_when_warm": {"fails_hot_only", "tacho_while_cranking"},  # the one says what the complaint says
    "misfire_in_damp": {"fails_hot_only"},
    "cranks_does_not_fire": {"fails_hot_only", "crank_sensor_ohms", "timing_belt_look"},  # it never gets hot
    "does_not_crank": {"plug_dry_after_cranking"},
    "misfire_under_load": {"prime_three_times"},  # it starts
    "sudden_stop": {"prime_three_times", "timing_belt_look"},
    "fuel_smell": {"fuel_delivery", "spray_or_smoke"},  # nobody pumps fuel or starts it there
    "brake_pulls": {"pad_thickness"},  # pads that are dirty, not worn
    "coolant_lost": {"thermostat_in_pan", "radiator_temperature_map", "coolant_level"},
    "overheats_at_speed": {"coolant_pressure"},  # a radiator that is blocked holds its pressure
    "charge_light": {"lamps_while_cranking"},  # the lamps are dim for want of charging
    "sinking_pedal": {"wheel_drag", "bleed_nipple_open"},
}


@pytest.mark.parametrize("complaint", BARRED)
def test_what_cannot_be_made_or_tells_nothing_with_a_complaint_is_no_check(complaint):
    kinds = load_complaints()[complaint].kinds
    offered = {check.id for check in finding(complaint, dict.fromkeys(kinds, 9), system="injection").checks}
    assert offered
    assert offered.isdisjoint(BARRED[complaint])
    for name in BARRED[complaint]:
        assert set(load_checks()[name].targets) & set(kinds)  # but for that it would be one


def test_a_condition_that_was_noticed_is_not_to_be_watched_for_again():
    ages = {"ignition_coil": 9, "condenser": 9}
    for noticed, there in (((), True), (("warm",), False)):
        checks = finding("sudden_stop", ages, system="points", noticed=noticed).checks
        assert ("fails_hot_only" in {check.id for check in checks}) is there


def test_whether_the_camshaft_turns_tells_of_a_belt_that_is_off_only_where_the_engine_does_not_run():
    for complaint, there in (("sudden_stop", True), ("backfire", False)):
        checks = {check.id for check in finding(complaint, {"timing_belt": 9}, system="points").checks}
        assert ("camshaft_turns" in checks) is there


def test_a_bad_result_that_does_not_say_where_is_refused_where_the_check_shows_where():
    book = Book(load_checks(), load_conditions())
    hose = part("brake_hose", 12)
    parts = [PartOnCar(f"hose {side}", hose.kind, hose.hazard) for side in ("left", "right")]
    opened = open_finding(load_complaints()["brake_pulls"], parts, book, system=None, years_since_well=0.25)
    assert {c.share for c in opened.candidates} == {
        opened.candidates[0].share
    }  # the kind's share, halved each
    with pytest.raises(FaultError, match="which part 'brake_hose_flex' showed to be bad"):
        rank(opened.after(Checked("brake_hose_flex", shows_bad=True)))
    told = rank(opened.after(Checked("brake_hose_flex", (("hose left", True), ("hose right", False)))))
    assert told.suspects[0].part == "hose left"


def test_stop_driving_and_its_reason_come_with_the_complaint():
    smell = finding("fuel_smell", {"fuel_hose_lp": 9}, system="points")
    assert smell.stop_driving
    assert finding("misfire_in_damp", CAR, system="points").stop_driving == ""


def test_renewing_a_part_that_cannot_cause_it_says_nothing_but_one_not_on_the_car_is_refused():
    ages = CAR | {"wheel_bearing": 8}
    told = finding("misfire_in_damp", ages, system="points", steps=(Renewed(("wheel_bearing",)),))
    assert told.steps == ()
    with pytest.raises(PartNotOnCar, match="a part on this car"):
        finding("misfire_in_damp", CAR, system="points", steps=(Renewed(("wheel_bearing",)),))


@pytest.mark.parametrize("ages", [{}, {"wheel_bearing": 8}])
def test_where_nothing_on_record_can_cause_it_all_odds_are_something_else_s_and_the_book_s_kinds_are_named(
    ages,
):
    opened = finding("sinking_pedal", ages, system="points")
    assert opened.candidates == ()
    ranking, advice = rank(opened), advise(opened)
    assert ranking.suspects == ()
    assert ranking.two_or_more == pytest.approx(0.0, abs=1e-9)
    assert ranking.something_else == pytest.approx(1.0, abs=1e-9)
    assert (advice.step.kind, advice.dont_buy_yet) == ("hand over", "")
    assert "tow" in advice.stop_driving
    # the book's lines: seals 40 + 20, hose 10, fluid 25, adjustment 5
    shares = {one.kind: one.share for one in opened.not_on_record}
    assert shares == pytest.approx({"brake_seals": 0.60, "brake_fluid": 0.25, "brake_hose": 0.10})
    assert list(shares) == ["brake_seals", "brake_fluid", "brake_hose"]
    assert "(60 in 100 such complaints)" in advice.record
    assert advice.record.endswith("Record when each was fitted, or that nobody knows.")


def test_what_is_on_record_is_not_named_as_missing_nor_are_its_alternatives_or_what_the_car_cannot_have():
    opened = finding("misfire_when_warm", {"spark_plugs_ni": 3, "ht_leads": 9}, system="points")
    missing = {one.kind: one.share for one in opened.not_on_record}
    # points cars: condenser 15, coil 15, leads 12, rotor 10, plugs 10, harness 6, clearance 8, mixture 8 = 84
    stated = {"condenser": 15, "ignition_coil": 15, "rotor_arm": 10, "harness_pvc": 6}
    assert missing == pytest.approx({kind: weight / 84 for kind, weight in stated.items()})
    complaint = load_complaints()["misfire_when_warm"]
    assert sum(missing.values()) <= complaint.something_else("points", {"spark_plugs_ni", "ht_leads"})
    everything = load_complaints()["sinking_pedal"]
    assert everything.not_on(None, everything.kinds) == {}


def test_an_unknown_condition_is_refused():
    with pytest.raises(FaultError, match="conditions out of"):
        finding("misfire_in_damp", CAR, system="points", noticed=("full moon",))


@pytest.mark.parametrize("years", [0.0, -1.0, math.nan, math.inf])
def test_a_time_since_it_ran_well_that_makes_no_sense_is_refused(years):
    with pytest.raises(FaultError, match="years_since_well"):
        open_finding(
            load_complaints()["misfire_in_damp"],
            [part("ht_leads", 5)],
            Book(load_checks(), load_conditions()),
            system=None,
            years_since_well=years,
        )


def test_accrued_hazard_is_the_difference_of_the_clocks_and_has_a_floor():
    life = known_life(distance=(2.0, 100_000.0), age=(3.0, 20.0))
    got = accrued_hazard(life, km=(40_000.0, 42_000.0), years=(10.0, 10.5))
    assert got == pytest.approx([0.42**2 - 0.4**2 + 0.525**3 - 0.5**3])
    assert accrued_hazard(life, km=(1.0, 1.0), years=(1.0, 1.0)) == pytest.approx([LEAST_HAZARD])
    with pytest.raises(FaultError, match="years"):
        accrued_hazard(life, km=(0.0, 1.0), years=(2.0, 1.0))


def test_a_part_that_has_outlived_the_book_counts_with_the_longer_of_its_lives():
    from planner.life.fit import book_life
    from planner.life.prior import book_prior

    life = book_life(book_prior(load_catalogue()["fuel_hose_lp"]), seed=1, draws=4000)
    plain = accrued_hazard(life, years=(25.0, 25.5), in_fit=True)
    survivor = accrued_hazard(life, years=(25.0, 25.5))
    weights = np.exp(-life.cumulative_hazard_draws(years=25.0))
    assert np.mean(survivor) == pytest.approx(np.average(plain, weights=weights), rel=0.02)
    assert np.mean(survivor) < np.mean(plain) / 2


def test_book_rates_refuse_shares_that_say_nothing():
    kinds = load_catalogue()
    for shares, elsewhere in (
        ({}, 0.1),
        ({"ht_leads": 0.0}, 0.1),
        ({"ht_leads": 0.5}, 0.0),
        ({"ht_leads": -1.0}, 1.0),
    ):
        with pytest.raises(FaultError, match="shares"):
            book_rates(shares, elsewhere, kinds)


def test_what_tells_only_of_an_engine_that_does_not_run_is_no_check_where_it_does():
    ages = {"ignition_coil": 9, "rotor_arm": 9, "fuel_filter": 9}
    for complaint, there in (("misfire_under_load", False), ("cranks_does_not_fire", True)):
        checks = {check.id for check in finding(complaint, ages, system="points").checks}
        assert ({"spark_while_cranking", "plug_dry_after_cranking"} <= checks) is there


def test_what_needs_a_running_engine_is_no_check_where_it_does_not_run():
    dead = {name for name, one in load_complaints().items() if one.engine_dead}
    assert dead == {"hot_no_start", "sudden_stop", "does_not_crank", "cranks_does_not_fire"}
    ages = {"ht_leads": 9, "distributor_cap": 9, "ignition_coil": 9, "rotor_arm": 9}
    for complaint, there in (("misfire_in_damp", True), ("sudden_stop", False)):
        checks = {check.id for check in finding(complaint, ages, system="points").checks}
        assert ("mist_in_the_dark" in checks) is there
        assert "spark_to_rotor" in checks


def test_not_to_know_the_age_never_makes_a_part_look_better_than_a_young_one():
    from planner.life.fit import book_life
    from planner.life.prior import book_prior

    share, weights = possible_days()
    assert weights.sum() == pytest.approx(1.0)
    assert (np.diff(share) > 0.0).all()
    ages = 10.0 + 30.0 * (1.0 - share)  # at least ten years old: fluids have long outlived the book
    for kind in load_catalogue().values():  # condenser and air temperature sensor fail early more than late
        life = book_life(book_prior(kind), seed=7, draws=400)
        worn = {"distance": ("km", KM_PER_YEAR), "age": ("years", 1.0)}
        clocks = {"years" if name == "age" else "km": worn[name][1] for name in life.clocks}
        unknown = accrued_of_unknown_age(
            life, **{c: (ages * rate, (ages + 0.25) * rate) for c, rate in clocks.items()}
        )
        fresh = accrued_hazard(life, **{c: (0.0, 0.25 * rate) for c, rate in clocks.items()})
        assert (np.sort(unknown) >= np.sort(fresh)).all(), kind.id
        assert np.mean(unknown) < 5.0 * book_hazard(kind, 0.25), kind.id  # nor near certain


def test_a_part_of_unknown_age_fails_at_the_rate_of_an_average_one():
    known = known_life(age=(3.0, 20.0))
    life = replace(known, draws=np.repeat(known.draws, 400, axis=0))
    ages = 60.0 * (1.0 - possible_days()[0])
    accrued = accrued_of_unknown_age(life, years=(ages, ages + 0.25))
    # a part met at no particular moment of its life fails at one over the mean life (renewal theory)
    assert np.mean(accrued) == pytest.approx(0.25 / (20.0 * math.gamma(4.0 / 3.0)), rel=0.05)
    with pytest.raises(FaultError, match="years"):
        accrued_of_unknown_age(life, years=(ages, ages - 1.0))


def test_lives_of_different_kinds_drawn_from_the_same_numbers_are_independent_and_parts_of_a_kind_share_theirs():
    # book lives of all kinds come from one seed; laid side by side as they are, two faults would seem to come together
    draws = np.exp(np.random.default_rng(5).normal(-3.0, 1.0, 400))
    kinds = load_catalogue()
    parts = [
        PartOnCar(name, kinds[kind], draws)
        for name, kind in (("left", "brake_hose"), ("right", "brake_hose"), ("seals", "brake_seals"))
    ]
    book = Book(load_checks(), load_conditions())
    opened = open_finding(load_complaints()["brake_pulls"], parts, book, system=None, years_since_well=0.25)
    left, right, seals = (candidate.hazard for candidate in opened.candidates)
    assert np.array_equal(left, right)
    assert np.array_equal(np.sort(left), np.sort(seals))
    assert abs(np.corrcoef(np.log(left), np.log(seals))[0, 1]) < 0.15
