"""A tour: the chance of a stop before and after work, packages proposed or asked for, spares to carry."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.api.history.making import car, fitment, made, odometer, problem

TODAY = datetime.now(UTC).date()
START = TODAY + timedelta(days=30)


@pytest.fixture
def vehicle(client):
    found = car(client, distance_unit="mi")
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 40_000 + 1_000 * (year - 2015), "mi", dial_digits=6)
    return found


def tour(client, vehicle, **query):
    asked = {"starts_on": START, "days": 21, "distance": 2_000} | query
    response = client.get(f"/v1/vehicles/{vehicle}/tour-risk", params=asked)
    assert response.status_code == 200, response.text
    return response.json()


def test_before_is_the_risk_of_those_days_and_that_distance(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2018-09-01", 43_000, "mi")
    fitment(client, vehicle, "v_belt", None)
    query = {"as_of": START, "days": 21, "distance": 2_000}
    risk = client.get(f"/v1/vehicles/{vehicle}/risk", params=query).json()
    found = tour(client, vehicle)
    assert found["before"] == risk["stop"]
    assert found["contributors"] == risk["contributors"]
    assert (found["ends_on"], found["distance"]) == (
        str(START + timedelta(days=20)),  # both days count
        {"value": 2_000, "unit": "mi"},
    )


def test_a_mechanics_packages_are_proposed_and_make_the_tour_safer(client, vehicle):
    belt = fitment(client, vehicle, "v_belt", "2014-09-01")
    fitment(client, vehicle, "rotor_arm", "2024-09-01", 49_000, "mi")
    fitment(client, vehicle, "condenser", "2020-09-01", 45_000, "mi")
    found = tour(client, vehicle)
    due = next(one for one in found["packages"] if one["name"] == "what is due")
    assert due["fitment_ids"] == [belt]
    assert due["avoided"] > 0
    assert due["stop"]["mean"] < found["before"]["mean"]
    assert due["cost"] > 0
    assert "run the new parts in" in due["note"]
    likeliest = next(one for one in found["packages"] if "likeliest" in one["name"])
    assert "condenser (capacitor)" not in likeliest["parts"]
    assert found["cautions"]


def test_a_new_part_that_may_be_bad_can_make_the_tour_worse(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2024-09-01", 49_000, "mi")
    fresh = tour(client, vehicle, renew="rotor_arm", distance=300, days=7)["packages"][0]
    assert fresh["avoided"] < 0
    assert "carry spares" in fresh["note"]
    run_in = tour(client, vehicle, renew="rotor_arm", distance=300, days=7, bedded_in=True)["packages"][0]
    assert run_in["stop"]["mean"] < fresh["stop"]["mean"]


def test_a_tyre_past_its_limit_is_never_advised_to_be_left(client, vehicle):
    fitment(client, vehicle, "tyres", "2012-09-01", position="front left")
    fitment(client, vehicle, "rotor_arm", "2024-09-01", 49_000, "mi")
    package = tour(client, vehicle, renew="tyres,rotor_arm", distance=300, days=7)["packages"][0]
    assert "Leave it" not in (package["note"] or "")


def test_the_keepers_own_packages_are_compared(client, vehicle):
    arm = fitment(client, vehicle, "rotor_arm", "2012-09-01")
    fitment(client, vehicle, "v_belt", "2012-09-01")
    found = tour(client, vehicle, renew=["rotor_arm", f"{arm}, v_belt"])
    assert [len(one["fitment_ids"]) for one in found["packages"]] == [1, 2]
    assert found["packages"][1]["stop"]["mean"] < found["packages"][0]["stop"]["mean"]


def test_spares_are_those_that_are_likely_needed_and_easily_fitted(client, vehicle):
    for kind in ("rotor_arm", "clutch", "brake_hose", "condenser"):
        fitment(client, vehicle, kind, "2012-09-01")
    spares = [one["kind"] for one in tour(client, vehicle)["spares"]]
    assert {"rotor_arm", "condenser"} <= set(spares[:3])
    assert "brake_hose" not in spares
    assert "clutch" not in spares


def test_what_was_found_failed_comes_first_with_its_cautions(client, vehicle):
    part = fitment(client, vehicle, "brake_hose", "2024-09-01", 49_000, "mi")
    look = {"inspected_on": "2026-09-15", "finding": "failed"}
    made(client.post(f"/v1/fitments/{part}/inspections", json=look))
    found = tour(client, vehicle)
    assert [one["fitment_id"] for one in found["found_bad"]] == [part]
    assert found["cautions"]
    problem(client.get(f"/v1/vehicles/{vehicle}/tour-risk", params={"renew": part}), 409, "renew")


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"days": 0}, "days"),
        ({"days": 367}, "days"),
        ({"distance": -1}, "distance"),
        ({"distance": "nan"}, "distance"),
        ({"renew": ","}, "renew.0"),
        ({"renew": ["v_belt"] * 4}, "renew"),
        ({"unit": "league"}, "unit"),
    ],
)
def test_a_malformed_question_is_refused(client, vehicle, query, field):
    problem(client.get(f"/v1/vehicles/{vehicle}/tour-risk", params=query), 422, field)


def test_a_part_that_is_not_on_the_car_conflicts_with_its_records(client, vehicle):
    problem(client.get(f"/v1/vehicles/{vehicle}/tour-risk", params={"renew": "gearbox"}), 409, "renew")


def test_a_stored_tour_is_named_and_says_its_days_and_distance(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2018-09-01")
    home = START + timedelta(days=20)
    stored = {
        "what": "tour",
        "starts_on": str(START),
        "ends_on": str(home),
        "distance": {"value": 2_000, "unit": "mi"},
    }
    plan = made(client.post(f"/v1/vehicles/{vehicle}/planned-use", json=stored))["id"]
    address = f"/v1/vehicles/{vehicle}/tour-risk"
    named = client.get(address, params={"planned_use": plan}).raise_for_status().json()
    assert (named["planned_use"], named["starts_on"], named["ends_on"]) == (plan, str(START), str(home))
    assert named["distance"] == stored["distance"]
    told = tour(client, vehicle, unit="mi")  # the same days and distance
    assert told["planned_use"] is None
    assert named["before"] == told["before"]
    problem(client.get(address, params={"planned_use": plan, "days": 3}), 422, "days")
    assert "planned use" in problem(client.get(address, params={"planned_use": "none"}), 404)["detail"]
    rest = {
        "what": "lay-up",
        "starts_on": str(home + timedelta(days=9)),
        "ends_on": str(home + timedelta(days=99)),
    }
    standing = made(client.post(f"/v1/vehicles/{vehicle}/planned-use", json=rest))["id"]
    problem(client.get(address, params={"planned_use": standing}), 422, "planned_use")


def test_a_tour_that_is_over_is_refused_and_one_under_way_is_not(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2018-09-01")
    tour(client, vehicle, starts_on=TODAY - timedelta(days=3), days=21)
    over = {"starts_on": TODAY - timedelta(days=30), "days": 21}
    problem(client.get(f"/v1/vehicles/{vehicle}/tour-risk", params=over), 422, "starts_on")
