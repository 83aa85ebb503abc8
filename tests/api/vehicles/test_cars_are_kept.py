"""Cars: registered, listed in pages, changed under If-Match, deleted with their history, hidden from other fleets."""

import pytest

from tests.api.history.making import car, fitment, items, made, odometer, problem


def test_a_car_comes_back_as_it_was_written(client):
    body = {
        "name": "Ida",
        "make": "Pellwick",
        "model": "Nutmeg",
        "built": "1967~",
        "chassis_number": "PN 1042",
        "system": "points",
        "distance_unit": "mi",
        "storage": "dry garage",
        "joined_on": "2016-04-01",
        "notes": "papers from 2016 on",
        "external_ref": "car-1",
    }
    response = client.post("/v1/vehicles", json=body)
    stored = made(response)
    assert response.headers["Location"] == f"/v1/vehicles/{stored['id']}"
    read = client.get(response.headers["Location"])
    assert read.json() == stored
    assert {name: stored[name] for name in body} == body
    assert read.headers["ETag"] == response.headers["ETag"]


def test_an_unchanged_car_is_not_sent_again(client):
    path = f"/v1/vehicles/{car(client)}"
    tag = client.get(path).headers["ETag"]
    assert client.get(path, headers={"If-None-Match": tag}).status_code == 304


def test_a_change_needs_the_state_it_changes(client):
    path = f"/v1/vehicles/{car(client, make='Pellwick')}"
    tag = client.get(path).headers["ETag"]
    problem(client.patch(path, json={"name": "Ada"}), 428)
    changed = client.patch(path, json={"name": "Ada"}, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert (changed.json()["name"], changed.json()["make"]) == ("Ada", "Pellwick")
    problem(client.patch(path, json={"name": "Eve"}, headers={"If-Match": tag}), 412)
    emptied = client.patch(path, json={"make": None}, headers={"If-Match": changed.headers["ETag"]})
    assert emptied.json()["make"] is None


def test_what_a_car_needs_cannot_be_emptied(client):
    path = f"/v1/vehicles/{car(client)}"
    problem(client.patch(path, json={"name": None}, headers={"If-Match": "*"}), 422, "name")
    problem(client.patch(path, json={"distance_unit": None}, headers={"If-Match": "*"}), 422, "distance_unit")


def test_a_change_that_contradicts_what_is_stored_is_a_conflict(client):
    path = f"/v1/vehicles/{car(client, built='1968', joined_on='2015-01-01')}"
    problem(client.patch(path, json={"built": "2019"}, headers={"If-Match": "*"}), 409, "joined_on")
    assert client.get(path).json()["built"] == "1968"


def test_a_car_is_built_before_what_happened_to_it(client):
    vehicle = car(client, built="1968", joined_on=None)
    path = f"/v1/vehicles/{vehicle}"
    odometer(client, vehicle, "1970-05-01", 10_000)
    later = problem(client.patch(path, json={"built": "1971"}, headers={"If-Match": "*"}), 409, "built")
    assert "1970-05-01" in later["detail"]
    fitment(client, vehicle, "rotor_arm", "1969-06-01")
    later = problem(client.patch(path, json={"built": "1970"}, headers={"If-Match": "*"}), 409, "built")
    assert "1969-06-01" in later["detail"]
    assert client.get(path).json()["built"] == "1968"


def test_lists_come_in_pages_that_lead_on(client):
    names = [f"car {n}" for n in range(5)]
    for name in names:
        car(client, name=name)
    found, path = [], "/v1/vehicles?limit=2"
    while path:
        response = client.get(path)
        found += [one["name"] for one in response.json()["items"]]
        path = response.links.get("next", {}).get("url")
    assert found == names


def test_a_deleted_car_takes_its_history_along(client):
    vehicle = car(client)
    odometer(client, vehicle, "2020-01-01", 50_000)
    part = fitment(client, vehicle, "rotor_arm", "2018-05-01")
    assert client.delete(f"/v1/vehicles/{vehicle}").status_code == 204
    problem(client.get(f"/v1/vehicles/{vehicle}"), 404)
    problem(client.get(f"/v1/fitments/{part}"), 404)
    assert items(client, "/v1/due-soon", within_days=3660) == []


@pytest.mark.parametrize("method", ["get", "patch", "delete"])
def test_another_fleets_car_is_not_found(client, stranger, method):
    path = f"/v1/vehicles/{car(client)}"
    options = {"json": {"name": "mine"}, "headers": {"If-Match": "*"}} if method == "patch" else {}
    problem(getattr(stranger, method)(path, **options), 404)
    assert client.get(path).json()["name"] == "Ida"


def test_a_name_of_another_system_is_taken_once_per_fleet(client, stranger):
    car(client, external_ref="car-1")
    body = {"name": "Ada", "distance_unit": "km", "external_ref": "car-1"}
    problem(client.post("/v1/vehicles", json=body), 409, "external_ref")
    made(stranger.post("/v1/vehicles", json=body))


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"distance_unit": "furlong"}, "distance_unit"),
        ({"distance_unit": None}, "distance_unit"),
        ({"name": ""}, "name"),
        ({"system": "diesel"}, "system"),
        ({"built": "long ago"}, "built"),
        ({"joined_on": "2999-01-01"}, "joined_on"),
        ({"built": "2999"}, "built"),
        ({"built": "2019", "joined_on": "2015-01-01"}, "joined_on"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_a_malformed_car_is_refused_by_the_name_of_its_field(client, change, field):
    body = {"name": "Ida", "distance_unit": "km"} | change
    problem(client.post("/v1/vehicles", json=body), 422, field)
    assert items(client, "/v1/vehicles") == []


def test_a_read_key_reads_and_writes_nothing(client, reading):
    vehicle = car(client)
    assert reading.get(f"/v1/vehicles/{vehicle}").status_code == 200
    problem(reading.post("/v1/vehicles", json={"name": "Ada", "distance_unit": "km"}), 403)
    problem(reading.delete(f"/v1/vehicles/{vehicle}"), 403)
