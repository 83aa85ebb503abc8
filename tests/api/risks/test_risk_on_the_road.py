"""The chance of a stop: from each part's own chance, for the days and distance asked about, with what it leaves out."""

from datetime import date

import pytest

from planner.catalogue import load_catalogue
from tests.api.history.making import car, fitment, made, odometer, problem, settle

AS_OF = date(2026, 10, 1)


@pytest.fixture
def vehicle(client):
    found = car(client, distance_unit="mi")
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 40_000 + 1_000 * (year - 2015), "mi", dial_digits=6)
    return found


def risk(client, vehicle, **query):
    response = client.get(f"/v1/vehicles/{vehicle}/risk", params={"as_of": AS_OF} | query)
    assert response.status_code == 200, response.text
    return response.json()


def test_a_car_without_parts_on_record_says_what_it_knows(client, vehicle):
    found = risk(client, vehicle)
    assert (found["stop"]["mean"], found["contributors"], found["found_bad"]) == (0, [], [])
    assert any("nobody wrote down" in note for note in found["notes"])


def test_contributors_make_up_the_stop(client, vehicle):
    for kind in ("rotor_arm", "condenser", "distributor_cap"):
        fitment(client, vehicle, kind, "2018-09-01", 43_000, "mi")
    found = risk(client, vehicle, days=90, distance=1_500)
    chances = [one["chance"]["mean"] for one in found["contributors"]]
    assert chances == sorted(chances, reverse=True)
    assert {one["kind"] for one in found["contributors"]} == {"rotor_arm", "condenser", "distributor_cap"}
    assert max(chances) < found["stop"]["mean"] <= sum(chances) + 0.01
    assert found["stop"]["low"] <= found["stop"]["mean"] <= found["stop"]["high"]
    assert "1 in" in found["stop"]["words"]
    assert "%" not in found["stop"]["words"]


def test_one_parts_share_is_its_failure_times_its_chance_of_stopping_the_car(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2018-09-01", 43_000, "mi")
    item = client.get(
        f"/v1/vehicles/{vehicle}/schedule", params={"as_of": AS_OF, "horizon_years": 10}
    ).json()["items"][0]
    until = date.fromisoformat(item["chance_to_window_end"]["until"])
    days = (until - AS_OF).days
    found = risk(client, vehicle, days=days)
    stops = load_catalogue()["rotor_arm"].stops_car
    assert found["stop"]["mean"] == pytest.approx(stops * item["chance_to_window_end"]["mean"], rel=0.08)


def test_longer_and_further_is_never_safer(client, vehicle):
    for kind in ("rotor_arm", "v_belt", "fuel_pump_mech"):
        fitment(client, vehicle, kind, "2018-09-01", 43_000, "mi")
    by_days = [risk(client, vehicle, days=days, distance=500)["stop"]["mean"] for days in (7, 30, 90, 365)]
    by_distance = [
        risk(client, vehicle, days=30, distance=far)["stop"]["mean"] for far in (0, 500, 2_000, 8_000)
    ]
    assert by_days == sorted(by_days)
    assert by_distance == sorted(by_distance)
    assert by_days[0] < by_days[-1]
    assert by_distance[0] < by_distance[-1]


def test_miles_and_kilometres_ask_the_same(client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2018-09-01", 43_000, "mi")
    miles, km = (
        risk(client, vehicle, distance=1_000, unit="mi"),
        risk(client, vehicle, distance=1_609.344, unit="km"),
    )
    assert miles["stop"] == km["stop"]
    assert (miles["distance"], km["distance"]["unit"]) == ({"value": 1_000, "unit": "mi"}, "km")
    assert risk(client, vehicle, distance=1_000)["distance"] == {"value": 1_000, "unit": "mi"}


def test_a_new_part_makes_the_car_safer(client, vehicle):
    old = fitment(client, vehicle, "v_belt", "2016-09-01", 41_000, "mi")
    before = risk(client, vehicle, days=365)["stop"]["mean"]
    made(
        client.post(f"/v1/fitments/{old}/removal", json={"removed_on": "2026-09-01", "reason": "preventive"})
    )
    fitment(client, vehicle, "v_belt", "2026-09-01", 51_000, "mi")
    assert risk(client, vehicle, days=365)["stop"]["mean"] < before


def test_a_part_found_failed_is_named_first_and_not_reckoned_with(client, vehicle):
    part = fitment(client, vehicle, "brake_hose", "2024-09-01", 49_000, "mi", position="front left")
    made(
        client.post(
            f"/v1/fitments/{part}/inspections", json={"inspected_on": "2026-09-15", "finding": "failed"}
        )
    )
    found = risk(client, vehicle)
    assert found["contributors"] == []
    assert [(one["fitment_id"], one["position"]) for one in found["found_bad"]] == [(part, "front left")]
    assert "found failed" in found["found_bad"][0]["reason"]


def test_the_fleets_own_fault_rate_of_new_parts_counts(fleet, client, vehicle):
    settle(fleet, client.put("/v1/part-kinds/rotor_arm/settings", json={"new_part_fault": 0.05}))
    fitment(client, vehicle, "rotor_arm", AS_OF.isoformat(), 51_000 + 80, "mi")
    more = risk(client, vehicle, days=30)["stop"]["mean"]
    settle(fleet, client.put("/v1/part-kinds/rotor_arm/settings", json={"new_part_fault": 0.0}))
    assert risk(client, vehicle, days=30)["stop"]["mean"] < more - 0.02


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"days": 0}, "days"),
        ({"days": 99_999}, "days"),
        ({"distance": -1}, "distance"),
        ({"distance": "nan"}, "distance"),
        ({"distance": "inf"}, "distance"),
        ({"distance": 100, "unit": "parsec"}, "unit"),
        ({"unit": "km"}, "distance"),
        ({"as_of": "never"}, "as_of"),
    ],
)
def test_a_malformed_question_is_refused(client, vehicle, query, field):
    problem(client.get(f"/v1/vehicles/{vehicle}/risk", params=query), 422, field)
