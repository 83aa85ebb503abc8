"""A tour or a lay-up that the keeper plans moves what distance decides, in every answer, and is taken back whole."""

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.api.history.making import car, fitment, items, made, odometer, problem

TODAY = datetime.now(UTC).date()
SOON = TODAY + timedelta(days=30)


@pytest.fixture
def vehicle(client):
    found = car(client, distance_unit="km")
    for year in range(2018, TODAY.year + 1):
        odometer(client, found, f"{year}-01-01", 60_000 + 2_000 * (year - 2018), "km", dial_digits=6)
    return found


def days(start, count):
    return {"starts_on": start.isoformat(), "ends_on": (start + timedelta(days=count - 1)).isoformat()}


def tour(km=3_500, start=SOON, count=21):
    return {"what": "tour", **days(start, count), "distance": {"value": km, "unit": "km"}}


def plan(client, vehicle, body):
    return made(client.post(f"/v1/vehicles/{vehicle}/planned-use", json=body))


def window(client, vehicle, part):
    found = items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
    return next(one for one in found if one["fitment_id"] == part)["window"]


def pads(client, vehicle):
    """Worn by distance alone, with a fleet that runs them to a hard limit of its own nowhere near."""
    return fitment(client, vehicle, "brake_pads", (TODAY - timedelta(days=700)).isoformat())


def test_a_tour_brings_the_window_forward_and_is_taken_back_whole(client, vehicle):
    part = pads(client, vehicle)
    before = window(client, vehicle, part)
    stored = plan(client, vehicle, tour())
    after = window(client, vehicle, part)
    assert date.fromisoformat(before["likely"]) > SOON, "the part is not due before the tour anyway"
    assert after["likely"] < before["likely"]
    assert after["latest"] < before["latest"]
    client.delete(f"/v1/vehicles/{vehicle}/planned-use/{stored['id']}").raise_for_status()
    assert window(client, vehicle, part) == before
    assert items(client, f"/v1/vehicles/{vehicle}/planned-use") == []


def test_a_lay_up_puts_distance_off_and_nothing_that_age_decides(client, vehicle):
    by_distance, by_age = pads(client, vehicle), fitment(client, vehicle, "vacuum_hose", "2022-05-01")
    before = [window(client, vehicle, part) for part in (by_distance, by_age)]
    plan(client, vehicle, {"what": "lay-up", **days(SOON, 730)})
    after = [window(client, vehicle, part) for part in (by_distance, by_age)]
    moved = date.fromisoformat(after[0]["likely"]) - date.fromisoformat(before[0]["likely"])
    assert 700 <= moved.days <= 760
    assert after[1]["likely"] == before[1]["likely"]


def test_no_plan_moves_a_hard_limit_back(client, vehicle):
    part = fitment(
        client, vehicle, "thermostat", "2024-01-01", cap={"distance": {"value": 12_000, "unit": "km"}}
    )
    limit = window(client, vehicle, part)["limit"]
    plan(client, vehicle, {"what": "lay-up", **days(SOON, 3_000)})
    standing = window(client, vehicle, part)
    assert standing["limit"] == limit
    assert standing["likely"] <= limit


def test_chances_and_the_risk_over_the_tour_count_its_distance(client, vehicle):
    pads(client, vehicle)
    fitment(client, vehicle, "contact_points", TODAY.isoformat())
    ahead = {"days": 60}
    before = client.get(f"/v1/vehicles/{vehicle}/risk", params=ahead).raise_for_status().json()
    plan(client, vehicle, tour())
    after = client.get(f"/v1/vehicles/{vehicle}/risk", params=ahead).raise_for_status().json()
    assert after["distance"]["value"] > 3_000 > before["distance"]["value"]
    assert after["stop"]["mean"] > before["stop"]["mean"]


def test_two_plans_share_no_day(client, vehicle):
    plan(client, vehicle, tour())
    refused = client.post(f"/v1/vehicles/{vehicle}/planned-use", json=tour(start=SOON + timedelta(days=20)))
    assert problem(refused, 409)["field"] == "starts_on"
    plan(client, vehicle, tour(start=SOON + timedelta(days=21)))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"ends_on": (SOON + timedelta(days=366)).isoformat()}, "ends_on"),
        ({"ends_on": (SOON - timedelta(days=1)).isoformat()}, "ends_on"),
        (
            {
                "starts_on": (TODAY - timedelta(days=30)).isoformat(),
                "ends_on": (TODAY - timedelta(days=3)).isoformat(),
            },
            "ends_on",
        ),
        ({"distance": None}, "distance"),
        ({"distance": {"value": -5, "unit": "km"}}, "distance.value"),
        ({"distance": {"value": 0, "unit": "km"}}, "distance.value"),
        ({"what": "lay-up"}, "distance"),
        ({"what": "holiday"}, "what"),
        ({"speed": 90}, "speed"),
    ],
)
def test_plans_that_make_no_sense_are_refused_and_store_nothing(client, vehicle, change, field):
    refused = client.post(f"/v1/vehicles/{vehicle}/planned-use", json={**tour(), **change})
    assert problem(refused, 422)["field"] == field
    assert items(client, f"/v1/vehicles/{vehicle}/planned-use") == []


def test_another_fleet_sees_no_plan(client, stranger, vehicle):
    stored = plan(client, vehicle, tour())
    address = f"/v1/vehicles/{vehicle}/planned-use"
    for answer in (
        stranger.get(address),
        stranger.post(address, json=tour(start=SOON + timedelta(days=60))),
        stranger.get(f"{address}/{stored['id']}"),
        stranger.delete(f"{address}/{stored['id']}"),
    ):
        assert answer.status_code == 404
    assert client.get(f"{address}/{stored['id']}").json() == stored
