"""Checks: the trade's sensitivities and specificities, their likelihood ratios, and what they may be made on."""

from __future__ import annotations

import pytest

from planner.catalogue import (
    load_catalogue,
    load_checks,
    load_complaints,
    load_conditions,
    own_check,
    read_checks,
)
from planner.errors import CatalogueError

CHECKS = load_checks()
CATALOGUE = load_catalogue()
every_check = pytest.mark.parametrize("check", CHECKS.values(), ids=list(CHECKS))

# The trade's table of cheap tests as printed (sensitivity, specificity, LR+, LR-): judgement of mechanics, +/- 0.15.
TRADE_CHECKS = {
    "mist_in_the_dark": (0.70, 0.92, "8.8", "0.33"),
    "cap_look": (0.60, 0.95, "12", "0.42"),
    "spark_to_rotor": (0.85, 0.97, "28", "0.15"),
    "lead_ohms": (0.55, 0.95, "11", "0.47"),
    "coil_ohms_cold": (0.35, 0.95, "7", "0.68"),
    "coil_spark_hot": (0.70, 0.80, "3.5", "0.38"),
    "condenser_swap": (0.95, 0.95, "19", "0.05"),
    "dwell": (0.85, 0.85, "5.7", "0.18"),
    "light_on_king_lead": (0.85, 0.90, "8.5", "0.17"),
    "heat_and_cold_spray": (0.65, 0.90, "6.5", "0.39"),
    "fails_hot_only": (0.80, 0.65, "2.3", "0.31"),
    "tacho_while_cranking": (0.75, 0.80, "3.8", "0.31"),
    "fuel_pressure": (0.85, 0.88, "7", "0.17"),
    "fuel_delivery": (0.80, 0.90, "8", "0.22"),
    "prime_three_times": (0.70, 0.80, "3.5", "0.38"),
    "vacuum_gauge": (0.65, 0.65, "1.9", "0.54"),
    "spray_or_smoke": (0.80, 0.90, "8", "0.22"),
    "temp_sensor_ohms": (0.85, 0.95, "17", "0.16"),
    "voltage_sweep": (0.80, 0.90, "8", "0.22"),
    "harness_flex": (0.95, 0.98, "48", "0.05"),
    "battery_conductance": (0.80, 0.85, "5.3", "0.24"),
    "charging_volts": (0.90, 0.90, "9", "0.11"),
    "cable_voltage_drop": (0.90, 0.95, "18", "0.11"),
    "plug_read": (0.75, 0.85, "5", "0.29"),
    "thermostat_in_pan": (0.95, 0.98, "48", "0.05"),
    "coolant_pressure": (0.80, 0.95, "16", "0.21"),
    "block_gas": (0.75, 0.95, "15", "0.26"),
    "brake_hose_flex": (0.35, 0.90, "3.5", "0.72"),
    "brake_fluid_boil": (0.90, 0.90, "9", "0.11"),
    "wheel_rock": (0.80, 0.80, "4", "0.25"),
}


def agrees(value, printed):
    """Whether a value rounds to what is printed (a half may go either way)."""
    decimals = len(printed.partition(".")[2])
    return abs(value - float(printed)) <= 0.5 * 10.0**-decimals + 1e-9


def test_the_trades_thirty_checks_are_there_and_more():
    assert len(TRADE_CHECKS) == 30
    assert set(TRADE_CHECKS) < set(CHECKS)


@pytest.mark.parametrize("name", TRADE_CHECKS)
def test_figures_and_likelihood_ratios_are_those_printed(name):
    check = CHECKS[name]
    sensitivity, specificity, positive, negative = TRADE_CHECKS[name]
    assert (check.sensitivity, check.specificity) == (sensitivity, specificity)
    assert agrees(check.lr_positive, positive)
    assert agrees(check.lr_negative, negative)


def test_a_trial_renewal_is_worth_what_the_trade_says():
    """LR+ of 5-20 and LR- of about 0.05, for any part."""
    trial = CHECKS["trial_renewal"]
    assert 5.0 <= trial.lr_positive <= 20.0
    assert agrees(trial.lr_negative, "0.05")
    assert all(trial.looks_at(kind) for kind in CATALOGUE)


@every_check
def test_each_check_speaks_of_something_and_says_where_its_figures_come_from(check):
    assert set(check.targets) <= set(CATALOGUE)
    assert bool(check.targets) + check.any_part + bool(check.rules_out) == 1
    assert check.sensitivity + check.specificity > 1.0
    assert check.lr_positive > 1.0 > check.lr_negative > 0.0
    assert check.minutes > 0.0 or check.any_part
    assert set(check.provenance) == {"sensitivity", "specificity", "minutes", "money"}
    assert all(p.basis == "judgement" and p.text for p in check.provenance.values())


@every_check
def test_a_check_applies_only_where_one_of_its_parts_can_be(check):
    for system in ("points", "electronic distributor", "injection"):
        if check.applies_to(system) and check.targets:
            assert any(CATALOGUE[kind].fits(system) for kind in check.targets)
    assert check.applies_to(None)


def test_systems_of_checks_follow_the_trade():
    assert not CHECKS["dwell"].applies_to("injection")
    assert not CHECKS["fuel_pressure"].applies_to("points")
    assert CHECKS["mist_in_the_dark"].applies_to("points")


def test_poor_looks_are_marked_as_next_to_no_reassurance():
    """A clean look at brake hose, fuel hose, timing belt or coil resistance hardly moves the odds (trade notes)."""
    for name in ("brake_hose_flex", "fuel_hose_bend", "timing_belt_look", "coil_ohms_cold"):
        assert CHECKS[name].lr_negative > 0.55


def test_checks_that_find_nothing_while_the_fault_stays_away_are_marked():
    present = {name for name, check in CHECKS.items() if check.needs_fault_present}
    assert {"fails_hot_only", "tacho_while_cranking", "coil_spark_hot", "crank_signal_hot"} <= present
    assert present.isdisjoint({"tread_and_date", "pad_thickness", "cap_look", "heat_and_cold_spray"})


def test_checks_from_memory_own_to_have_no_source():
    for name in (
        "lamps_while_cranking",
        "spark_while_cranking",
        "plug_dry_after_cranking",
        "camshaft_turns",
        "coolant_level",
        "fuel_leak_look",
        "wheel_drag",
        "bleed_nipple_open",
    ):
        check = CHECKS[name]
        assert "no source" in check.provenance["sensitivity"].text
        assert check.caution
        assert not check.needs_running


def test_what_bars_a_check_is_a_complaint_with_a_suspect_for_it_or_a_condition():
    for check in CHECKS.values():
        for name in check.not_with:
            complaint = load_complaints().get(name)
            assert (
                name in load_conditions() if complaint is None else set(complaint.kinds) & set(check.targets)
            )
    wrong = {"name": "n", "targets": ["battery"], "sensitivity": 0.9, "specificity": 0.9, "minutes": 5}
    with pytest.raises(CatalogueError, match="not_with"):
        own_check("mine", wrong | {"not_with": ["on_sundays"]})


def test_checks_that_can_hurt_carry_a_caution():
    for name in (
        "spark_to_rotor",
        "fuel_pressure",
        "coolant_pressure",
        "wheel_rock",
        "pad_thickness",
        "charging_volts",
    ):
        assert CHECKS[name].caution


def test_most_suspects_of_each_complaint_have_a_check_of_their_own():
    for complaint in load_complaints().values():
        shares = complaint.shares()
        checked = sum(share for kind, share in shares.items()
                      if any(kind in check.targets for check in CHECKS.values()))  # fmt: skip
        assert checked > 0.75 * sum(shares.values()), complaint.id


OWN = {
    "name": "smell the dipstick",
    "targets": ["fuel_pump_mech"],
    "sensitivity": 0.6,
    "specificity": 0.9,
    "minutes": 1,
}


def test_a_keeper_adds_his_own_check():
    own = own_check("dipstick", OWN | {"note": "tried it often"})
    assert own.lr_positive == pytest.approx(6.0)
    assert own.provenance["sensitivity"].text.endswith("tried it often")


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"targets": []}, "dipstick: targets"), ({"targets": ["dipstick"]}, "dipstick: targets"),
        ({"any_part": True}, "dipstick: targets"), ({"rules_out": "worn rings"}, "dipstick: targets"),
        ({"sensitivity": 0.0}, "dipstick: sensitivity"), ({"sensitivity": 1.0}, "dipstick: sensitivity"),
        ({"sensitivity": 0.05}, "dipstick: sensitivity"), ({"specificity": 1.0}, "dipstick: specificity"),
        ({"specificity": float("nan")}, "dipstick: specificity"), ({"minutes": -1}, "dipstick: minutes"),
        ({"minutes": float("inf")}, "dipstick: minutes"), ({"money": "5"}, "dipstick: money"),
        ({"systems": ["diesel"]}, "dipstick: systems"), ({"name": None}, "dipstick: name"),
        ({"needs_fault_present": 1}, "dipstick: needs_fault_present"), ({"price": 3}, "dipstick: price"),
        ({"sources": ["grandfather"]}, "dipstick: sources"),
    ],
)  # fmt: skip
def test_a_broken_check_is_refused_by_field(change, field):
    with pytest.raises(CatalogueError) as refused:
        own_check("dipstick", OWN | change)
    assert refused.value.field == field


def test_broken_files_of_checks_are_named():
    with pytest.raises(CatalogueError, match=r"mine.toml: wanted valid TOML"):
        read_checks({"mine.toml": "[check"})
    with pytest.raises(CatalogueError, match=r"mine.toml: check: wanted at least one table"):
        read_checks({"mine.toml": "check = 1"})
