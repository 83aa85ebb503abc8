"""Odometer readings: the keeper's own figure comes back, beside the true distance that it stands for."""

import pytest

from tests.api.history.making import car, fitment, items, odometer, problem


def totals(client, vehicle):
    return [one["total"]["value"] for one in items(client, f"/v1/vehicles/{vehicle}/odometer-readings")]


def test_a_five_digit_dial_that_passed_its_end(client):
    vehicle = car(client, distance_unit="mi")
    odometer(client, vehicle, "2018-01-01", 97_500, "mi", dial_digits=5)
    late = odometer(client, vehicle, "2020-01-01", 1_200, "mi", dial_digits=5)
    assert late["reading"] == {"value": 1_200, "unit": "mi"}
    assert late["total"] == {"value": 101_200, "unit": "mi"}


def test_miles_and_kilometres_on_one_car(client):
    vehicle = car(client)
    odometer(client, vehicle, "2018-01-01", 50_000, "mi")
    after = odometer(client, vehicle, "2019-01-01", 81_000, "km")
    assert after["total"] == {"value": 81_000, "unit": "km"}  # 50,000 miles are 80,467 km
    problem(
        client.post(
            f"/v1/vehicles/{vehicle}/odometer-readings",
            json={"read_on": "2020-01-01", "reading": {"value": 50_200, "unit": "km"}, "dial_digits": 6},
        ),
        409,
        "reading",
    )


def test_a_replaced_instrument_starts_anew(client):
    vehicle = car(client)
    odometer(client, vehicle, "2015-01-01", 60_000)
    odometer(client, vehicle, "2018-01-01", 66_000)
    problem(
        client.post(
            f"/v1/vehicles/{vehicle}/odometer-readings",
            json={"read_on": "2018-01-02", "reading": {"value": 10, "unit": "km"}, "dial_digits": 6},
        ),
        409,
        "reading",
    )
    odometer(client, vehicle, "2018-01-02", 0, new_instrument=True)
    later = odometer(client, vehicle, "2020-01-02", 4_000)
    assert later["total"]["value"] == pytest.approx(70_000, abs=20)


def test_an_earlier_reading_entered_late_changes_what_later_ones_stand_for(client):
    vehicle = car(client)
    odometer(client, vehicle, "2020-01-01", 2_000, dial_digits=5)
    assert totals(client, vehicle) == [2_000]
    odometer(client, vehicle, "2016-01-01", 90_000, dial_digits=5)
    assert totals(client, vehicle) == [90_000, 102_000]


def test_taking_a_reading_back(client):
    vehicle = car(client)
    first = odometer(client, vehicle, "2018-01-01", 50_000)
    second = odometer(client, vehicle, "2020-01-01", 95_000)
    path = f"/v1/vehicles/{vehicle}/odometer-readings"
    assert client.get(f"{path}/{second['id']}").json() == second
    assert client.delete(f"{path}/{second['id']}").status_code == 204
    problem(client.get(f"{path}/{second['id']}"), 404)
    assert [one["id"] for one in items(client, path)] == [first["id"]]


def test_figures_written_at_a_fitting_count_as_readings(client):
    vehicle = car(client)
    fitment(client, vehicle, "rotor_arm", "2020-01-01", 60_000)
    body = {"read_on": "2021-01-01", "reading": {"value": 59_000, "unit": "km"}, "dial_digits": 6}
    problem(client.post(f"/v1/vehicles/{vehicle}/odometer-readings", json=body), 409, "reading")


def test_a_request_sent_twice_under_one_key_is_stored_once(client):
    vehicle = car(client)
    path = f"/v1/vehicles/{vehicle}/odometer-readings"
    body = {"read_on": "2021-01-01", "reading": {"value": 59_000, "unit": "km"}}
    first = client.post(path, json=body, headers={"Idempotency-Key": "a"})
    again = client.post(path, json=body, headers={"Idempotency-Key": "a"})
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    assert len(items(client, path)) == 1
