"""A file of records: mapped, judged by the rules of the JSON routes, taken in whole or not at all, sent twice stored once."""

import pytest
from sqlalchemy import select

from api.storage.session import reading
from api.storage.tables import ImportMatch, ImportPart, OdometerReading
from tests.api.imports.sending import items, send

CARS = "external_ref,name,distance_unit\nA,Alder,mi\nB,Beech,km\n"
READINGS = "entry,car,date,miles\nE1,A,2024-05-17,61200\nE2,A,2025-04-02,62950\nE3,B,2025-04-02,12000\n"
MAPPING = {"entry": "external_ref", "car": "vehicle_ref", "date": "read_on", "miles": "reading.mi"}


@pytest.fixture
def cars(fleet):
    assert send(fleet, "vehicles", CARS).state == "shown"
    return {car["external_ref"]: car["id"] for car in items(fleet, "/v1/vehicles")}


def readings(fleet, car):
    return [
        (one["external_ref"], one["reading"]["value"], one["reading"]["unit"])
        for one in items(fleet, f"/v1/vehicles/{car}/odometer-readings")
    ]


def test_another_programs_columns_come_in_by_a_mapping(fleet, cars):
    sent = send(fleet, "odometer-readings", READINGS, mapping=MAPPING)
    assert (sent.state, sent.rows, sent.errors) == ("shown", (3, 3, 0, 0, 0), [])
    assert readings(fleet, cars["A"]) == [("E1", 61200.0, "mi"), ("E2", 62950.0, "mi")]
    assert readings(fleet, cars["B"]) == [("E3", 12000.0, "mi")]


def test_columns_that_nobody_named_are_refused_with_suggestions(fleet, cars):
    sent = send(fleet, "odometer-readings", READINGS)
    assert sent.state == "refused"
    assert sent.job["problem"]["type"] == "/problems/malformed"
    near = {one["column"]: one["suggestions"] for one in sent.body["unknown_columns"]}
    assert near.keys() == {"entry", "car", "date", "miles"}
    assert (near["car"][0], near["date"][0], near["miles"][0]) == ("vehicle_ref", "read_on", "reading.value")
    assert readings(fleet, cars["A"]) == []


def test_or_left_aside_where_that_is_asked_for(fleet, cars):
    text = READINGS.replace("miles\n", "miles,clerk\n").replace("0\n", "0,ab\n")
    sent = send(fleet, "odometer-readings", text, mapping=MAPPING, unknown_columns="leave aside")
    assert (sent.state, sent.rows) == ("shown", (3, 3, 0, 0, 0))


def test_the_same_file_again_stores_nothing_twice(fleet, cars):
    send(fleet, "odometer-readings", READINGS, mapping=MAPPING)
    again = send(fleet, "odometer-readings", READINGS, mapping=MAPPING)
    assert again.rows == (3, 0, 0, 3, 0)
    changed = send(fleet, "odometer-readings", READINGS.replace("62950", "62951"), mapping=MAPPING)
    assert changed.rows == (3, 0, 1, 2, 0)
    assert readings(fleet, cars["A"]) == [("E1", 61200.0, "mi"), ("E2", 62951.0, "mi")]


def test_nor_does_a_file_without_references(fleet, cars):
    text = "vehicle_ref,read_on,reading.value,reading.unit\nA,2024-05-17,61200,mi\nA,2025-04-02,62950,mi\n"
    assert send(fleet, "odometer-readings", text).rows == (2, 2, 0, 0, 0)
    assert send(fleet, "odometer-readings", text).rows == (2, 0, 0, 2, 0)


def test_one_bad_row_keeps_all_out(fleet, service, cars):
    text = READINGS + "E4,A,2025-05-01,40000\nE5,C,2025-05-01,1\nE6,A,2999-05-01,70000\nE7,A,2025-02-30,x\n"
    sent = send(fleet, "odometer-readings", text, mapping=MAPPING)
    assert (sent.state, sent.rows[0], sent.rows[4]) == ("refused", 7, 4)
    assert [line.split(",")[:2] for line in sent.errors] == [
        ["5", "reading"],
        ["6", "vehicle_ref"],
        ["7", "read_on"],
        ["8", "read_on"],
        ["8", "reading.value"],
    ]
    problem = sent.job["problem"]
    assert (problem["type"], problem["status"]) == ("/problems/rows-refused", 422)
    assert problem["errors"][1] == {
        "row": 6,
        "field": "vehicle_ref",
        "wanted": "the external_ref or id of a vehicle of this fleet",
        "got": "C",
    }
    with reading(service.database) as session:
        for table in (OdometerReading, ImportPart, ImportMatch):
            assert session.query(table).filter_by(fleet_id=fleet.id).count() == 0
        table = OdometerReading.__table__  # bare, so that what is hidden would be seen
        left = session.connection().execute(select(table.c.id).where(table.c.fleet_id == fleet.id)).all()
        assert left == []


def test_or_only_itself(fleet, cars):
    text = READINGS + "E4,A,2025-05-01,40000\nE5,C,2025-05-01,1\nE6,A,2025-06-01,63000\n"
    sent = send(fleet, "odometer-readings", text, mapping=MAPPING, bad_rows="skip")
    assert (sent.state, sent.rows) == ("shown", (6, 4, 0, 0, 2))
    assert [ref for ref, *_ in readings(fleet, cars["A"])] == ["E1", "E2", "E6"]


def test_a_dry_run_says_the_same_and_stores_nothing(fleet, cars):
    text = READINGS + "E4,A,2025-05-01,40000\n"
    sent = send(fleet, "odometer-readings", text, mapping=MAPPING, dry_run=True)
    assert (sent.job["state"], sent.state, sent.rows) == ("succeeded", "checked", (4, 3, 0, 0, 1))
    assert len(sent.errors) == 1
    assert readings(fleet, cars["A"]) == []


def test_a_reference_twice_in_a_file_is_a_fault_of_the_second_row(fleet, cars):
    text = READINGS + "E1,A,2024-05-17,61200\n"
    sent = send(fleet, "odometer-readings", text, mapping=MAPPING, bad_rows="skip")
    assert sent.rows == (4, 3, 0, 0, 1)
    assert sent.errors == [
        "5,external_ref,one row for each record: row 2 has this reference already,E1",
    ]
    again = send(fleet, "odometer-readings", text, mapping=MAPPING, bad_rows="skip")
    assert again.rows == (4, 0, 0, 3, 1)


def test_forecasts_follow(fleet, cars):
    send(fleet, "odometer-readings", READINGS, mapping=MAPPING)
    parts = "vehicle_ref,external_ref,kind,fitted_on\nA,F1,rotor_arm,2001~\nA,F2,condenser,2024-06\n"
    assert send(fleet, "fitments", parts).rows == (2, 2, 0, 0, 0)
    due = items(fleet, f"/v1/vehicles/{cars['A']}/due-soon?within_days=365")
    assert "rotor_arm" in {one["kind"] for one in due}


def test_a_removal_takes_its_part_off(fleet, cars):
    parts = "vehicle_ref,external_ref,kind,fitted_on\nA,F1,rotor_arm,2001~\n"
    send(fleet, "fitments", parts)
    text = "fitment_ref,external_ref,removed_on,reason\nF1,M1,2020-05-01,preventive\nF1,M2,2020-05-01,preventive\n"
    sent = send(fleet, "removals", text, bad_rows="skip")
    assert sent.rows == (2, 1, 0, 0, 1)
    (part,) = items(fleet, f"/v1/vehicles/{cars['A']}/fitments")
    assert part["in_service"] is False


def test_events_that_contradict_their_part_are_faults(fleet, cars):
    send(fleet, "fitments", "vehicle_ref,external_ref,kind,fitted_on\nA,F1,rotor_arm,2001-05-01\n")
    looks = "fitment_ref,external_ref,inspected_on,finding\nF1,I1,2000-05-01,good\nF1,I2,2002-05-01,Good\n"
    sent = send(fleet, "inspections", looks, bad_rows="skip")
    assert sent.rows == (2, 1, 0, 0, 1)
    assert sent.errors[0].startswith("2,inspected_on,")
    repairs = "fitment_ref,repaired_on,action\nF1,2003-05-01,cleaned\n"
    assert send(fleet, "repairs", repairs).rows == (1, 1, 0, 0, 0)


def test_json_lines_come_in_too(fleet, cars):
    lines = (
        '{"vehicle_ref": "A", "external_ref": "J1", "read_on": "2024-05-17", "reading": {"value": 61200, "unit": "mi"}}\n'
        '{"vehicle_ref": "A", "external_ref": "J2", "read_on": "2025-05-17", "reading": {"value": "62000", "unit": "mi"}}\n'
        '{"vehicle_ref": "A", "external_ref": "J3", "read_on": "2025-05-17", "reading": {"value": 62000, "unit": "mi"}, "clerk": 1}\n'
        "[1, 2]\n{\n"
    )
    sent = send(fleet, "odometer-readings", lines, format="jsonl", bad_rows="skip")
    assert sent.rows == (5, 1, 0, 0, 4)
    assert [line.split(",")[:2] for line in sent.errors] == [
        ["2", "reading.value"],
        ["3", "clerk"],
        ["4", "row"],
        ["5", "row"],
    ]


def test_units_by_column_and_by_row(fleet, cars):
    text = "vehicle_ref,external_ref,read_on,km,mi,unit,shown\nA,1,2020-01-01,1000,,,\nA,2,2020-02-01,,700,,\nA,3,2020-03-01,,,Miles,800\nA,4,2020-04-01,,,,1500\nA,5,2020-05-01,1,2,,\n"
    mapping = {"km": "reading.km", "mi": "reading.mi", "unit": "reading.unit", "shown": "reading.value"}
    sent = send(fleet, "odometer-readings", text, mapping=mapping, unit="km", bad_rows="skip")
    assert readings(fleet, cars["A"]) == [
        ("1", 1000.0, "km"),
        ("2", 700.0, "mi"),
        ("3", 800.0, "mi"),
        ("4", 1500.0, "km"),
    ]
    assert [line.split(",")[:2] for line in sent.errors] == [["6", "reading"]]


def test_another_fleets_cars_cannot_be_named(service, fleet, cars):
    other = service.fleet()
    for ref in ("A", cars["A"]):
        text = f"vehicle_ref,external_ref,read_on,reading.value,reading.unit\n{ref},X,2024-05-17,61200,mi\n"
        assert send(other, "odometer-readings", text).state == "refused"
