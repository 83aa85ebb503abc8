"""What does not fit the car, the case or the days is refused with the field's name, and the case stays as it was."""

from datetime import timedelta

import pytest

from tests.api.faults.cases import DAMP, TODAY, WELL, car_with, closed, opened, step
from tests.api.history.making import fitment, items, made, problem, removal

TOMORROW = (TODAY + timedelta(days=2)).isoformat()


@pytest.fixture
def damp(client):
    return car_with(client, DAMP)


def open_with(client, vehicle, **fields):
    body = {"complaint": "misfire_in_damp", "last_ran_well": WELL} | fields
    return client.post(f"/v1/vehicles/{vehicle}/fault-findings", json=body)


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"complaint": ""}, "complaint"),
        ({"conditions": ["on Tuesdays"]}, "conditions"),
        ({"last_ran_well": None}, "last_ran_well"),
        ({"last_ran_well": TOMORROW}, "last_ran_well"),
        ({"noted_on": TOMORROW}, "noted_on"),
        ({"noted_on": "2001-01-01"}, "last_ran_well"),
        ({"fault_present": 0}, "fault_present"),
        ({"fault_present": 1.5}, "fault_present"),
        ({"more": 1}, "more"),
    ],
)
def test_a_case_that_makes_no_sense_is_not_opened(client, damp, fields, field):
    vehicle, _ = damp
    problem(open_with(client, vehicle, **fields), 422, field)
    assert items(client, f"/v1/vehicles/{vehicle}/fault-findings") == []


def test_a_complaint_that_neither_book_nor_fleet_knows(client, damp):
    problem(open_with(client, damp[0], complaint="makes_a_noise"), 409, "complaint")


def test_what_is_said_twice_counts_once(client, damp):
    case = opened(client, damp[0], conditions=["cold", "cold"])
    assert case["conditions"] == ["cold"]
    after = step(client, case, renewed=[damp[1]["ht_leads"]] * 2, cured=False)
    assert after["steps"][0]["renewed"] == [damp[1]["ht_leads"]]


@pytest.mark.parametrize(
    ("body", "status", "field"),
    [
        ({"check": "lick_it", "outcome": "bad"}, 409, "check"),
        ({"check": "crank_signal_hot", "outcome": "bad"}, 409, "check"),  # only with an electronic system
        ({"check": "spark_while_cranking", "outcome": "bad"}, 409, "check"),  # of a dead engine
        ({"check": "fails_hot_only", "outcome": "bad"}, 409, "check"),  # not with a fault in damp
        ({"check": "mist_in_the_dark", "outcome": "bad"}, 409, "parts"),  # it shows where
        ({"check": "tread_and_date", "outcome": "bad"}, 409, "check"),  # looks at no suspect
        ({"check": "cap_look", "outcome": "so-so"}, 422, "outcome"),
        ({"check": "cap_look", "outcome": "bad", "parts": ["another"]}, 409, "parts"),
        ({"check": "cap_look", "outcome": "bad", "done_on": TOMORROW}, 422, "done_on"),
        ({"check": "cap_look", "outcome": "bad", "fault_present": 2}, 422, "fault_present"),
        ({"check": "cap_look"}, 422, "body"),
        ({"outcome": "bad"}, 422, "body"),
        ({}, 422, "body"),
        ({"check": "cap_look", "outcome": "bad", "renewed": ["x"], "cured": True}, 422, "body"),
        ({"renewed": ["another"], "cured": False}, 409, "renewed"),
        ({"renewed": [], "cured": False}, 422, "renewed"),
        ({"renewed": ["another"]}, 422, "body"),
        ({"renewed": ["another"], "cured": "no"}, 422, "cured"),
    ],
)
def test_a_step_that_does_not_fit_is_refused_and_the_case_stays(client, damp, body, status, field):
    case = opened(client, damp[0])
    problem(client.post(f"/v1/fault-findings/{case['id']}/steps", json=body), status, field)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case


def test_the_check_that_does_not_apply_says_to_what_it_does(client, damp):
    case = opened(client, damp[0])
    body = {"check": "lambda_switching", "outcome": "good"}
    refused = problem(client.post(f"/v1/fault-findings/{case['id']}/steps", json=body), 409, "check")
    assert "does not apply to a car with points" in refused["detail"]


def test_the_same_check_of_the_same_part_cannot_show_both(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    after = step(client, case, check="cap_look", outcome="good")
    body = {"check": "cap_look", "outcome": "bad"}
    problem(client.post(f"/v1/fault-findings/{case['id']}/steps", json=body), 409, "outcome")
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == after
    step(client, case, renewed=[parts["distributor_cap"]], cured=False)
    step(client, case, check="cap_look", outcome="bad")  # a new cap: another piece


def test_a_part_of_another_car_is_not_on_this_one(client, damp):
    other, theirs = car_with(client, {"ht_leads": 5})
    case = opened(client, damp[0])
    path = f"/v1/fault-findings/{case['id']}"
    body = {"renewed": [theirs["ht_leads"]], "cured": True}
    problem(client.post(f"{path}/steps", json=body), 409, "renewed")
    problem(client.post(f"{path}/closing", json={"cured": True, "by": [theirs["ht_leads"]]}), 409, "by")
    assert len(items(client, f"/v1/vehicles/{other}/fitments", in_service=True)) == 1


def test_a_check_that_shows_which_part_wants_it_named(client):
    vehicle, parts = car_with(client, {})
    ends = [fitment(client, vehicle, "brake_hose", "1990-01-01", position=side) for side in ("left", "right")]
    assert parts == {}
    case = opened(client, vehicle, "brake_pulls")
    path = f"/v1/fault-findings/{case['id']}/steps"
    problem(client.post(path, json={"check": "brake_hose_flex", "outcome": "bad"}), 409, "parts")
    after = step(client, case, check="brake_hose_flex", outcome="bad", parts=[ends[0]])
    assert after["steps"][0]["shows_bad"] == {ends[0]: True, ends[1]: False}
    assert after["ranking"]["suspects"][0]["fitment_id"] == ends[0]


@pytest.mark.parametrize(
    ("body", "status", "field"),
    [
        ({}, 422, "cured"),
        ({"cured": False, "by": ["x"]}, 422, "by"),
        ({"cured": True, "by": ["x"]}, 409, "by"),
        ({"cured": True, "closed_on": TOMORROW}, 422, "closed_on"),
        ({"cured": True, "closed_on": "2001-01-01"}, 409, "closed_on"),
        ({"cured": True, "confirmed": ["x"]}, 409, "confirmed"),
    ],
)
def test_a_closing_that_does_not_fit_leaves_the_case_open(client, damp, body, status, field):
    vehicle, _ = damp
    case = opened(client, vehicle)
    problem(client.post(f"/v1/fault-findings/{case['id']}/closing", json=body), status, field)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case


def test_a_failure_is_confirmed_only_on_a_part_that_is_out(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    body = {"cured": True, "by": [parts["ht_leads"]], "confirmed": [parts["ignition_coil"]]}
    problem(client.post(f"/v1/fault-findings/{case['id']}/closing", json=body), 409, "confirmed")
    assert len(items(client, f"/v1/vehicles/{vehicle}/fitments", in_service=True)) == len(DAMP)


def test_a_renewal_against_the_other_records_is_refused_at_the_step_with_its_field(client, damp):
    vehicle, parts = damp
    late = fitment(client, vehicle, "vacuum_advance", (TODAY - timedelta(days=20)).isoformat())
    case = opened(client, vehicle)
    path = f"/v1/fault-findings/{case['id']}/steps"
    arm = {"renewed": [parts["rotor_arm"]], "cured": False}
    problem(client.post(path, json=arm | {"odometer": {"value": 5, "unit": "mi"}}), 409, "odometer")
    before = (TODAY - timedelta(days=40)).isoformat()
    refused = problem(
        client.post(path, json={"renewed": [late], "cured": False, "done_on": before}), 409, "done_on"
    )
    assert "not before the fitting" in refused["detail"]
    kept = step(client, case, **arm, odometer={"value": 100_100, "unit": "km"}, done_on=before)
    earlier = {"done_on": (TODAY - timedelta(days=41)).isoformat()}
    problem(client.post(path, json=arm | earlier), 409, "done_on")
    leads = {"renewed": [parts["ht_leads"]], "cured": False, "odometer": {"value": 100_050, "unit": "km"}}
    problem(client.post(path, json=leads), 409, "odometer")  # below the step before it
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == kept
    step(client, case, **arm)  # again: the piece fitted at the first step


def test_a_removal_against_the_other_records_stores_nothing(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    case = step(client, case, renewed=[parts["rotor_arm"]], cured=False)
    body = {"cured": True, "by": [parts["ht_leads"]], "odometer": {"value": 5, "unit": "mi"}}
    problem(client.post(f"/v1/fault-findings/{case['id']}/closing", json=body), 409, "odometer")
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case
    assert len(items(client, f"/v1/vehicles/{vehicle}/fitments", in_service=True)) == len(DAMP)


def test_a_part_that_was_off_the_car_before_cures_nothing(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    path = f"/v1/fault-findings/{case['id']}"
    leads, six_days_ago = parts["ht_leads"], (TODAY - timedelta(days=6)).isoformat()
    off = {"removed_on": six_days_ago, "reason": "preventive"}
    made(client.post(f"/v1/fitments/{leads}/removal", json=off))
    later = {"renewed": [leads], "cured": True}
    refused = problem(client.post(f"{path}/steps", json=later), 409, "renewed")
    assert six_days_ago in refused["detail"]
    problem(client.post(f"{path}/closing", json={"cured": True, "by": [leads]}), 409, "by")
    assert client.get(path).json()["steps"] == []
    step(client, case, **later, done_on=six_days_ago)  # the day of its removal is right
    assert closed(client, case, cured=True)["closing"]["removals"][0]["written"] is False


def test_a_part_renewed_twice_in_a_case_may_have_its_first_removal_on_record(client, damp):
    vehicle, parts = damp
    case, arm = opened(client, vehicle), parts["rotor_arm"]
    before = (TODAY - timedelta(days=9)).isoformat()
    step(client, case, renewed=[arm], cured=False, done_on=before)
    made(client.post(f"/v1/fitments/{arm}/removal", json={"removed_on": before, "reason": "on suspicion"}))
    step(client, case, renewed=[arm], cured=True)
    assert closed(client, case, cured=True)["closed_on"] == TODAY.isoformat()


def test_a_case_is_closed_once(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    ended = closed(client, case, cured=True, by=[parts["ht_leads"]])
    path = f"/v1/fault-findings/{case['id']}"
    problem(client.post(f"{path}/closing", json={"cured": False}), 409)
    problem(client.post(f"{path}/steps", json={"check": "cap_look", "outcome": "good"}), 409)
    problem(client.get(f"{path}/next-step"), 404)
    assert client.get(path).json() == ended


def test_other_parts_than_those_of_the_curing_step_are_refused(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    body = {"cured": True, "by": [parts["rotor_arm"]]}
    problem(client.post(f"/v1/fault-findings/{case['id']}/closing", json=body), 409, "by")


def test_parts_taken_off_before_are_no_suspects(client, damp):
    vehicle, parts = damp
    removal(client, parts["ht_leads"], WELL, "preventive")
    case = opened(client, vehicle)
    assert parts["ht_leads"] not in {one["fitment_id"] for one in case["ranking"]["suspects"]}


def test_keys_and_fleets(client, reading, stranger, nobody, damp):
    vehicle, _ = damp
    case = opened(client, vehicle)
    path = f"/v1/fault-findings/{case['id']}"
    body = {"complaint": "misfire_in_damp", "last_ran_well": WELL}
    bodies = {
        f"/v1/vehicles/{vehicle}/fault-findings": body,
        f"{path}/steps": {"check": "cap_look", "outcome": "good"},
        f"{path}/closing": {"cured": False},
    }
    for where, sent in bodies.items():
        problem(nobody.post(where, json=sent), 401)
        problem(reading.post(where, json=sent), 403)
        problem(stranger.post(where, json=sent), 404)
    for where in (path, f"{path}/next-step", f"/v1/vehicles/{vehicle}/fault-findings"):
        problem(nobody.get(where), 401)
        problem(stranger.get(where), 404)
        assert reading.get(where).status_code == 200
    assert client.get(path).json() == case


def test_a_step_from_before_the_fault_is_refused_and_the_case_stays_as_it_was(client, damp):
    case = opened(client, damp[0])
    body = {"renewed": [damp[1]["ht_leads"]], "cured": True, "done_on": "2001-01-01"}
    answer = client.post(f"/v1/fault-findings/{case['id']}/steps", json=body)
    problem(answer, 409, "done_on")
    assert "2001-01-01" in answer.text
    assert client.get(f"/v1/fault-findings/{case['id']}").json()["steps"] == []


def test_a_second_renewal_in_the_same_place_is_held_to_the_odometer_as_the_first_is(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    before = step(client, case, renewed=[parts["ht_leads"]], cured=False)
    low = {"renewed": [parts["ht_leads"]], "cured": True, "odometer": {"value": 5, "unit": "mi"}}
    problem(client.post(f"/v1/fault-findings/{case['id']}/steps", json=low), 409, "odometer")
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == before
    assert closed(client, step(client, case, renewed=[parts["ht_leads"]], cured=True), cured=True)["closing"]
