"""The invented fleet: made by its script to the byte, as messy as its README says, and readable by the planner."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections import Counter
from datetime import date
from pathlib import Path
from typing import get_args

import pytest

from api.demo.records import FLEET_NAME, FleetRecords
from planner.catalogue import load_catalogue
from planner.history.evidence import MOVED, Reason
from planner.history.odometer import OdometerTrack
from planner.history.records import Distance, Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle

ROOT = Path(__file__).resolve().parents[3]
SEED = ROOT / "seed_data"
FILES = ("vehicles", "odometer_readings", "fitments", "inspections", "repairs", "removals", "fault_findings")


@pytest.fixture(scope="module")
def fleet() -> FleetRecords:
    return FleetRecords.load(SEED)


def record(model, line, **more):
    return model.model_validate({k: v for k, v in line.items() if k in model.model_fields} | more)


def in_service(fleet):
    gone = {line["fitment"] for line in fleet.removals}
    return [line for line in fleet.fitments if line["external_ref"] not in gone]


def test_the_script_makes_the_files_to_the_byte(tmp_path):
    command = [sys.executable, "-m", "seed_data.make_fleet", str(tmp_path)]
    subprocess.run(command, cwd=ROOT, check=True, timeout=120)
    for name in FILES:
        assert (tmp_path / f"{name}.jsonl").read_bytes() == (SEED / f"{name}.jsonl").read_bytes(), name


def test_another_seed_makes_another_fleet(monkeypatch, tmp_path):
    from seed_data import make_fleet

    monkeypatch.setattr(make_fleet, "SEED", "another")
    make_fleet.write(tmp_path)
    assert (tmp_path / "removals.jsonl").read_bytes() != (SEED / "removals.jsonl").read_bytes()


def test_it_says_that_it_is_invented():
    text = (SEED / "README.md").read_text("utf-8")
    assert "invented" in text.splitlines()[0]
    assert FLEET_NAME in text


def test_the_demo_and_the_script_speak_of_one_firm():
    from api.demo import records
    from seed_data import firm

    theirs = (firm.FIRM, firm.TIME_ZONE, firm.CURRENCY)
    assert theirs == (records.FLEET_NAME, records.TIME_ZONE, records.CURRENCY)


def test_24_cars_with_12_to_20_parts_in_service_each_over_six_years(fleet):
    assert len(fleet.vehicles) == 24
    counts = Counter(line["vehicle"] for line in in_service(fleet))
    assert len(counts) == 24
    assert all(12 <= n <= 20 for n in counts.values()), counts
    days = sorted(date.fromisoformat(line["read_on"]) for line in fleet.odometer_readings)
    assert 5.9 < (days[-1] - days[0]).days / 365.25 < 6.2
    assert len(fleet) < 1700


def test_every_line_is_a_record_that_the_planner_accepts(fleet):
    for line in fleet.vehicles:
        record(Vehicle, line, ref=line["external_ref"])
    for line in fleet.fitments:
        assert record(Fitment, line, ref=line["external_ref"]).kind in load_catalogue()
    for model, lines in ((Inspection, fleet.inspections), (Repair, fleet.repairs), (Removal, fleet.removals)):
        for line in lines:
            record(model, line)


def test_every_dial_and_every_bill_fits_the_car_s_true_distance(fleet):
    car_of = {line["external_ref"]: line["vehicle"] for line in fleet.fitments}
    for car in fleet.vehicles:
        ref = car["external_ref"]
        readings = [record(OdometerReading, r) for r in fleet.odometer_readings if r["vehicle"] == ref]
        track = OdometerTrack.from_readings(readings)
        bills = [
            (date.fromisoformat(line["removed_on"]), line["odometer"])
            for line in fleet.removals
            if car_of[line["fitment"]] == ref and "odometer" in line
        ]
        for day, shown in bills:
            assert track.true_km(day, Distance.model_validate(shown)) is not None, (ref, day, shown)


def test_the_mess_that_the_readme_promises_is_there(fleet):
    readings = fleet.odometer_readings
    units = {(line["vehicle"], line["reading"]["unit"]) for line in readings}
    assert {("QD23", "km"), ("QD23", "mi"), ("QD18", "km"), ("QD13", "mi")} <= units
    dial = [line["reading"]["value"] for line in readings if line["vehicle"] == "QD03"]
    assert any(later < earlier for earlier, later in itertools.pairwise(dial))
    assert [line["vehicle"] for line in readings if line.get("new_instrument")] == ["QD09"]
    dates = [line["fitted_on"] for line in fleet.fitments]
    assert None in dates
    assert {len(text) for text in dates if text} >= {4, 5, 7, 10}
    assert any(line.get("condition") == "second-hand" and "donor" in line for line in fleet.fitments)
    assert any(line.get("condition") == "second-hand" and "donor" not in line for line in fleet.fitments)
    assert any("odometer" not in line for line in fleet.removals)
    assert any("measurement" in line for line in fleet.inspections)
    assert {line["action"] for line in fleet.repairs} >= {"cleaned", "dressed", "re-gapped", "adjusted"}


def test_every_reason_for_which_a_part_comes_off_is_there(fleet):
    told = Counter((line["reason"], line.get("cured")) for line in fleet.removals)
    by_bills = set(get_args(Reason)) - {MOVED}  # written where parts move, not off a bill
    assert {reason for reason, _ in told} == by_bills
    assert told["on suspicion", False] >= 10
    assert told["on suspicion", True] >= 3


def test_the_story_three_thermostats_blamed_before_the_radiator(fleet):
    parts = {line["external_ref"]: line for line in fleet.fitments}
    out = {(parts[r["fitment"]]["vehicle"], parts[r["fitment"]]["kind"], r["reason"], r.get("cured")): r["removed_on"]
           for r in fleet.removals}  # fmt: skip
    for car in ("QD13", "QD15", "QD18"):
        wrong = out[car, "thermostat", "on suspicion", False]
        right = out[car, "radiator", "failed, confirmed", True]
        assert wrong[:7] <= right[:7]
