"""``external_ref``: every record takes one, keeps it, is found by it, and gives it to no second one."""

import pytest

from api.app import create_app
from api.settings import Settings
from tests.api.history.making import car, fitment

DOCUMENT = create_app(Settings(jobs=False)).openapi()
RECORDS = {
    "/v1/vehicles": {"name": "x", "distance_unit": "km"},
    "/v1/vehicles/{car}/odometer-readings": {"read_on": "2020-01-01", "reading": {"value": 5, "unit": "km"}},
    "/v1/vehicles/{car}/fitments": {"kind": "rotor_arm", "fitted_on": "2020-01-01"},
    "/v1/fitments/{part}/inspections": {"inspected_on": "2021-01-01", "finding": "good"},
    "/v1/fitments/{part}/repairs": {"repaired_on": "2021-01-01", "action": "cleaned"},
    "/v1/webhooks": {"url": "https://hooks.garage.example/", "events": ["digest.ready"]},
}


@pytest.mark.parametrize("path", RECORDS)
def test_a_record_is_found_by_it_and_no_second_one_takes_it(client, stranger, path):
    vehicle = car(client)
    ids = {"car": vehicle, "part": fitment(client, vehicle, "rotor_arm", "2019-01-01")}
    address, name = path.format(**ids), "A/7 & é"
    client.post(address, json={**RECORDS[path], "external_ref": "another"}).raise_for_status()
    made = client.post(address, json={**RECORDS[path], "external_ref": name}).raise_for_status().json()
    (found,) = client.get(address, params={"external_ref": name}).raise_for_status().json()["items"]
    assert (found["id"], found["external_ref"]) == (made["id"], name)
    assert client.get(address, params={"external_ref": "nobody's"}).json()["items"] == []
    refused = client.post(address, json={**RECORDS[path], "external_ref": name})
    assert (refused.status_code, refused.json()["field"]) == (409, "external_ref")
    if "{" not in path:
        assert stranger.get(address, params={"external_ref": name}).json()["items"] == []
        stranger.post(address, json={**RECORDS[path], "external_ref": name}).raise_for_status()


def test_every_list_of_records_with_such_names_is_asked_by_them():
    schemas = DOCUMENT["components"]["schemas"]
    for path, methods in DOCUMENT["paths"].items():
        for operation in (methods[m] for m in methods if m == "post" and "get" in methods):
            body = operation.get("requestBody", {}).get("content", {}).get("application/json", {})
            name = body.get("schema", {}).get("$ref", "").rpartition("/")[2]
            if "external_ref" not in schemas.get(name, {}).get("properties", {}):
                continue
            asked = {parameter["name"] for parameter in methods["get"].get("parameters", [])}
            if "cursor" in asked:
                assert "external_ref" in asked, path
