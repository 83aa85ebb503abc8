"""Fitments, inspections, repairs, removals: stored as written, listed, taken back."""

from tests.api.history.making import car, fitment, items, made, problem, removal


def test_a_fitment_comes_back_as_it_was_written(client):
    vehicle = car(client)
    body = {
        "kind": "tyres",
        "position": "front left",
        "fitted_on": "2019~",
        "odometer": {"value": 31_000, "unit": "mi"},
        "condition": "second-hand",
        "donor": {"distance": {"value": 5_000, "unit": "mi"}, "years": 2.5},
        "grade": "unbranded",
        "made_on": "2015-21",
        "cap": {"distance": None, "years": 8},
        "note": "date code 1415",
        "external_ref": "tyre-1",
    }
    response = client.post(f"/v1/vehicles/{vehicle}/fitments", json=body)
    stored = made(response)
    assert {name: stored[name] for name in body} == body
    assert stored["in_service"] is True
    assert client.get(response.headers["Location"]).json() == stored


def test_the_only_one_of_its_kind_needs_no_position(client):
    part = fitment(client, car(client), "rotor_arm", None)
    stored = client.get(f"/v1/fitments/{part}").json()
    assert (stored["position"], stored["fitted_on"]) == (None, None)


def test_past_parts_stay_listed(client):
    vehicle = car(client)
    old = fitment(client, vehicle, "rotor_arm", "2018-01-01")
    removal(client, old, "2020-01-01", "preventive")
    new = fitment(client, vehicle, "rotor_arm", "2020-01-01")
    path = f"/v1/vehicles/{vehicle}/fitments"
    assert [one["id"] for one in items(client, path)] == [old, new]
    assert [one["id"] for one in items(client, path, in_service=True)] == [new]
    assert [one["id"] for one in items(client, path, in_service=False)] == [old]


def test_looks_and_repairs_are_listed_by_day_and_taken_back(client):
    part = fitment(client, car(client), "brake_pads", "2018-01-01")
    path = f"/v1/fitments/{part}"
    measured = {"value": 4.0, "unit": "mm", "limit": 2.0}
    look = {"inspected_on": "2021-03-01", "finding": "near limit", "measurement": measured}
    late = made(client.post(f"{path}/inspections", json=look))
    early = made(client.post(f"{path}/inspections", json={"inspected_on": "2020-03-01", "finding": "good"}))
    cleaned = made(client.post(f"{path}/repairs", json={"repaired_on": "2020-03-01", "action": "cleaned"}))
    assert late["measurement"] == measured
    assert [one["id"] for one in items(client, f"{path}/inspections")] == [early["id"], late["id"]]
    assert items(client, f"{path}/repairs") == [cleaned]
    assert client.delete(f"{path}/inspections/{late['id']}").status_code == 204
    assert client.delete(f"{path}/repairs/{cleaned['id']}").status_code == 204
    problem(client.get(f"{path}/inspections/{late['id']}"), 404)
    assert items(client, f"{path}/inspections") == [early]
    assert items(client, f"{path}/repairs") == []


def test_a_removal_is_one_and_can_be_taken_back(client):
    part = fitment(client, car(client), "rotor_arm", "2018-01-01")
    path = f"/v1/fitments/{part}/removal"
    problem(client.get(path), 404)
    stored = removal(
        client, part, "2021-06~", "on suspicion", cured=False, changed_together=2, note="no change"
    )
    assert client.get(path).json() == stored
    assert (stored["removed_on"], stored["cured"], stored["changed_together"]) == ("2021-06~", False, 2)
    assert client.get(f"/v1/fitments/{part}").json()["in_service"] is False
    assert client.delete(path).status_code == 204
    problem(client.delete(path), 404)
    assert client.get(f"/v1/fitments/{part}").json()["in_service"] is True


def test_a_deleted_fitment_takes_its_records_along(client):
    vehicle = car(client)
    part = fitment(client, vehicle, "rotor_arm", "2018-01-01")
    made(
        client.post(
            f"/v1/fitments/{part}/inspections", json={"inspected_on": "2020-03-01", "finding": "good"}
        )
    )
    removal(client, part, "2021-01-01", "preventive")
    assert client.delete(f"/v1/fitments/{part}").status_code == 204
    problem(client.get(f"/v1/fitments/{part}"), 404)
    problem(client.get(f"/v1/fitments/{part}/inspections"), 404)
    assert items(client, f"/v1/vehicles/{vehicle}/fitments") == []


def test_a_part_of_another_fleet_is_not_found(client, stranger):
    part = fitment(client, car(client), "rotor_arm", "2018-01-01")
    for path in ("", "/inspections", "/repairs", "/removal"):
        problem(stranger.get(f"/v1/fitments/{part}{path}"), 404)
    problem(stranger.delete(f"/v1/fitments/{part}"), 404)
    problem(stranger.delete(f"/v1/fitments/{part}/removal"), 404)
    assert client.get(f"/v1/fitments/{part}").status_code == 200
