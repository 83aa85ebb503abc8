"""Work put off keeps its reason in sight, moves no limit, and comes back when the decision is taken back."""

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.api.history.making import car, fitment, items, made, odometer, problem, removal

TODAY = datetime.now(UTC).date()


@pytest.fixture
def vehicle(client):
    found = car(client, distance_unit="mi")
    for year in range(2015, TODAY.year + 1):
        odometer(client, found, f"{year}-01-01", 40_000 + 1_000 * (year - 2015), "mi", dial_digits=6)
    return found


def put_off(client, part, until, reason="waiting for the part"):
    return made(client.post(f"/v1/fitments/{part}/put-off", json={"until": until, "reason": reason}))


def listed(client, vehicle, part):
    return next(
        one
        for one in items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
        if one["fitment_id"] == part
    )


def test_a_part_put_off_moves_its_day_and_says_why(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    assert listed(client, vehicle, part)["put_off"] is None
    until = (TODAY + timedelta(days=200)).isoformat()
    answer = put_off(client, part, until)
    assert answer["window"]["likely"] == until
    assert answer["warning"] is None
    assert "waiting for the part" in answer["accepted"]
    shown = listed(client, vehicle, part)
    assert shown["window"]["likely"] == until
    assert shown["status"] == "soon"
    assert shown["put_off"] == {"until": until, "accepted": answer["accepted"], "warning": None}


def test_it_stays_in_the_due_soon_list(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    put_off(client, part, (TODAY + timedelta(days=900)).isoformat())
    due = items(client, "/v1/due-soon", within_days=30)
    assert [one["fitment_id"] for one in due] == [part]
    assert due[0]["put_off"]["accepted"]


def test_no_decision_passes_a_hard_cap_and_the_warning_stays(client, vehicle):
    made_on = (TODAY - timedelta(days=round(9.5 * 365.25))).isoformat()
    part = fitment(client, vehicle, "tyres", made_on, position="front left")
    limit = listed(client, vehicle, part)["window"]["limit"]
    answer = put_off(client, part, (TODAY + timedelta(days=3_000)).isoformat())
    assert answer["window"]["limit"] == limit
    assert answer["window"]["likely"] <= limit
    assert answer["window"]["latest"] <= limit
    assert "cannot be put off past it" in answer["warning"]
    again = client.get(f"/v1/fitments/{part}/put-off", params={"as_of": "2099-01-01"}).json()
    assert (again["status"], "was reached" in again["warning"]) == ("due now", True)
    declined = put_off(client, part, None, "bought new ones")
    assert declined["until"] is None
    assert "declining does not move it" in declined["warning"]


def test_a_part_found_failed_stays_due_whatever_is_decided(client, vehicle):
    part = fitment(client, vehicle, "brake_hose", "2021-01-01", position="front left")
    look = {"inspected_on": "2024-05-01", "finding": "failed"}
    made(client.post(f"/v1/fitments/{part}/inspections", json=look))
    answer = put_off(client, part, (TODAY + timedelta(days=60)).isoformat())
    assert answer["status"] == "due now"
    assert "should not be driven" in answer["warning"]


def test_a_later_decision_replaces_the_earlier_and_can_be_taken_back(client, reading, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    put_off(client, part, (TODAY + timedelta(days=100)).isoformat(), "first")
    put_off(client, part, None, "second")
    found = reading.get(f"/v1/fitments/{part}/put-off").json()
    assert (found["until"], found["reason"], found["decided_on"]) == (None, "second", TODAY.isoformat())
    assert client.delete(f"/v1/fitments/{part}/put-off").status_code == 204
    problem(reading.get(f"/v1/fitments/{part}/put-off"), 404)
    problem(client.delete(f"/v1/fitments/{part}/put-off"), 404)
    assert listed(client, vehicle, part)["put_off"] is None


def test_a_decision_about_a_part_that_came_off_stays_on_record(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    put_off(client, part, None)
    removal(client, part, TODAY.isoformat(), "failed, confirmed")
    found = client.get(f"/v1/fitments/{part}/put-off").json()
    assert (found["window"], found["status"]) == (None, None)
    problem(
        client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": "x"}), 409, "fitment_id"
    )


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"until": "2020-01-01", "reason": "late"}, "until"),
        ({"until": None, "reason": ""}, "reason"),
        ({"until": None, "reason": "   "}, "reason"),
        ({"until": None}, "reason"),
        ({"reason": "x"}, "until"),
        ({"until": "soon", "reason": "x"}, "until"),
        ({"until": None, "reason": "x", "more": 1}, "more"),
    ],
)
def test_a_decision_that_makes_no_sense_is_refused_and_nothing_kept(client, vehicle, body, field):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    problem(client.post(f"/v1/fitments/{part}/put-off", json=body), 422, field)
    problem(client.get(f"/v1/fitments/{part}/put-off"), 404)


def test_reading_keys_decide_nothing(client, reading, stranger, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2012-01-01")
    body = {"until": date(2090, 1, 1).isoformat(), "reason": "x"}
    problem(reading.post(f"/v1/fitments/{part}/put-off", json=body), 403)
    problem(stranger.post(f"/v1/fitments/{part}/put-off", json=body), 404)
