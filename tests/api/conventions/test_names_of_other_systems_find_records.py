"""``external_ref``: every record takes one, keeps it, is found by it, and gives it to no second one."""

import pytest

from api.app import create_app
from api.settings import Settings
from tests.api.history.making import car, fitment
from tests.contract.replay import fill

DOCUMENT = create_app(Settings(jobs=False)).openapi()

MAILED = "/v1/digest-subscriptions"
"""Kept no longer than needed: every address of the service gets mail, in other tests too."""

CAUSES = {"title": "x", "causes": [{"kinds": ["rotor_arm"], "weight": 9}]}
WORTH = {"name": "x", "targets": ["rotor_arm"], "sensitivity": 0.9, "specificity": 0.9, "minutes": 2}
RECORDS = {
    "/v1/vehicles": {"name": "x", "distance_unit": "km"},
    "/v1/vehicles/{car}/odometer-readings": {"read_on": "2020-01-01", "reading": {"value": 5, "unit": "km"}},
    "/v1/vehicles/{car}/fitments": {"kind": "rotor_arm", "fitted_on": "2020-01-01"},
    "/v1/vehicles/{car}/fault-findings": {"complaint": "misfire_in_damp", "last_ran_well": "2021-06-01"},
    "/v1/vehicles/{car}/planned-use": {
        "what": "lay-up",
        "starts_on": "203{number}-11-01",
        "ends_on": "203{number}-11-30",
    },
    "/v1/fitments/{part}/inspections": {"inspected_on": "2021-01-01", "finding": "good"},
    "/v1/fitments/{part}/repairs": {"repaired_on": "2021-01-01", "action": "cleaned"},
    "/v1/webhooks": {"url": "https://hooks.garage.example/", "events": ["digest.ready"]},
    "/v1/calendar": {"label": "workshop"},
    MAILED: {"address": "keeper{number}@garage.example"},
    "/v1/keys": {"scope": "read"},
    "/v1/imports": {"kind": "vehicles"},
    "/v1/complaints": {"id": "squeals_{number}", **CAUSES},
    "/v1/checks": {"id": "listening_{number}", **WORTH},
}

ONE_AT_MOST = {"create_put_off", "create_removal"}
"""Records of which a fitment has one at most: they are found by its id, and no list shows them."""

NAMELESS = {
    "create_backtest": "asks for a job; the answer is the job, whose Idempotency-Key makes it once",
    "create_buying_list": "works something out and stores nothing",
    "create_fault_finding_closing": "the end of a fault-finding, which has its name",
    "create_fault_finding_step": "a line of a fault-finding, which has its name",
    "create_moved_parts": "takes a name for each part, not for all",
    "rotate_webhook": "changes the secret of a webhook, which has its name",
}
"""Bodies that are posted and make no record of their own, each with the reason why it takes no name."""


def posted():
    """Each operation that takes a JSON body by POST: its id, the other methods of its path, body and answer resolved."""
    for path, methods in DOCUMENT["paths"].items():
        content = methods.get("post", {}).get("requestBody", {}).get("content", {})
        if path.startswith("/v1/") and "application/json" in content:
            operation = methods["post"]
            answer = next(one for status, one in operation["responses"].items() if status.startswith("2"))
            yield operation["operationId"], methods, properties(content), properties(answer["content"])


def properties(content):
    named = content["application/json"]["schema"]["$ref"].rpartition("/")[2]
    return DOCUMENT["components"]["schemas"][named]["properties"]


@pytest.mark.parametrize("path", RECORDS)
def test_a_record_is_found_by_it_and_no_second_one_takes_it(admin, stranger, path):
    vehicle = car(admin)
    ids = {"car": vehicle, "part": fitment(admin, vehicle, "rotor_arm", "2019-01-01")}
    address, name = path.format(**ids), "A/7 & é"

    def ask(client, number, external_ref):
        return client.post(
            address, json={**fill(RECORDS[path], {"number": number}), "external_ref": external_ref}
        )

    ask(admin, 1, "another").raise_for_status()
    made = ask(admin, 2, name).raise_for_status().json()
    (found,) = admin.get(address, params={"external_ref": name}).raise_for_status().json()["items"]
    assert (found["id"], found["external_ref"]) == (made["id"], name)
    assert admin.get(address, params={"external_ref": "nobody's"}).json()["items"] == []
    refused = ask(admin, 3, name)
    assert (refused.status_code, refused.json()["field"]) == (409, "external_ref")
    if "{" not in path:
        assert stranger.get(address, params={"external_ref": name}).json()["items"] == []
        ask(stranger, 2, name).raise_for_status()
    if path == MAILED:
        for client in (admin, stranger):
            for one in client.get(path).json()["items"]:
                client.delete(f"{path}/{one['id']}").raise_for_status()


def test_a_later_decision_brings_its_own_name_and_another_parts_is_refused(client):
    vehicle = car(client)
    first, second = (fitment(client, vehicle, kind, "2019-01-01") for kind in ("rotor_arm", "battery"))
    body = {"until": None, "reason": "sold in May", "external_ref": "job-1"}
    for _ in range(2):
        made = client.post(f"/v1/fitments/{first}/put-off", json=body).raise_for_status().json()
        assert made["external_ref"] == "job-1"
    refused = client.post(f"/v1/fitments/{second}/put-off", json=body)
    assert (refused.status_code, refused.json()["field"]) == (409, "external_ref")
    client.post(f"/v1/fitments/{first}/put-off", json={**body, "external_ref": "job-2"}).raise_for_status()
    assert client.get(f"/v1/fitments/{first}/put-off").json()["external_ref"] == "job-2"
    client.post(f"/v1/fitments/{second}/put-off", json=body).raise_for_status()


@pytest.mark.parametrize(
    ("path", "body"), [("/v1/complaints", RECORDS["/v1/complaints"]), ("/v1/checks", RECORDS["/v1/checks"])]
)
def test_a_fleets_own_changes_its_name_and_the_books_takes_none(client, path, body):
    for number, name in ((1, "S-1"), (2, "S-2")):
        client.post(path, json={**fill(body, {"number": number}), "external_ref": name}).raise_for_status()
    one, any_state = f"{path}/{fill(body, {'number': 1})['id']}", {"If-Match": "*"}
    refused = client.patch(one, json={"external_ref": "S-2"}, headers=any_state)
    assert (refused.status_code, refused.json()["field"]) == (409, "external_ref")
    for change, then in (
        ({"external_ref": "S-1"}, "S-1"),
        ({"note": "why"}, "S-1"),
        ({"external_ref": None}, None),
    ):
        assert (
            client.patch(one, json=change, headers=any_state).raise_for_status().json()["external_ref"]
            == then
        )
        assert client.get(one).json()["external_ref"] == then
    books = next(one for one in client.get(path).json()["items"] if not one["own"])
    refused = client.patch(f"{path}/{books['id']}", json={"external_ref": "S-3"}, headers=any_state)
    assert (refused.status_code, refused.json()["field"]) == (409, "external_ref")


def test_every_body_that_makes_a_record_takes_one_and_every_answer_shows_it():
    without = {name for name, _, body, _ in posted() if "external_ref" not in body}
    assert without == set(NAMELESS)
    silent = {name for name, _, _, answer in posted() if "external_ref" not in answer}
    assert silent <= set(NAMELESS)
    assert {"create_key", "create_put_off", "create_import"} <= {name for name, *_ in posted()} - without


def test_every_list_of_records_with_such_names_is_asked_by_them():
    for name, methods, body, _ in posted():
        if "external_ref" in body and name not in ONE_AT_MOST:
            asked = {parameter["name"] for parameter in methods["get"].get("parameters", [])}
            assert "external_ref" in asked, name
