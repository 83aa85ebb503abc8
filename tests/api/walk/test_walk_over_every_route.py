"""Every route under /v1: no key 401, a scope too small 403, another fleet's id 404; nothing of it in any list."""

import re

import httpx
import pytest

from api.app import ROUTERS, create_app
from api.settings import Settings

BODIES = {
    "create_vehicle": {"name": "x", "distance_unit": "km"},
    "update_vehicle": {"name": "x"},
    "create_odometer_reading": {"read_on": "2020-01-01", "reading": {"value": 50000, "unit": "km"}},
    "create_fitment": {"kind": "rotor_arm", "fitted_on": "2020-01-01"},
    "create_inspection": {"inspected_on": "2021-01-01", "finding": "good"},
    "create_repair": {"repaired_on": "2021-01-01", "action": "cleaned"},
    "create_removal": {"removed_on": "2022-01-01", "reason": "preventive"},
    "create_put_off": {"until": None, "reason": "sold in May"},
    "put_settings": {"prior": "book"},
    "create_backtest": {},
    "create_buying_list": {
        "built": "1985",
        "odometer": {"value": 90000, "unit": "km"},
        "per_year": {"value": 3000, "unit": "km"},
        "kinds": ["rotor_arm"],
    },
    "update_fleet": {"discount_rate": 0.02},
    "create_planned_use": {"what": "lay-up", "starts_on": "2030-11-01", "ends_on": "2031-03-31"},
    "create_moved_parts": {
        "from_vehicle_id": "another",
        "moved_on": "2024-05-01",
        "parts": [{"fitment_id": "one"}],
    },
    "create_key": {"scope": "read"},
    "create_calendar": {"label": "workshop"},
    "create_digest_subscription": {"address": "walker@garage.example"},
    "create_import": {"kind": "vehicles"},
    "create_webhook": {"url": "https://hooks.garage.example/", "events": ["digest.ready"]},
    "update_webhook": {"label": "x"},
    "update_complaint": {"title": "x"},
    "update_check": {"name": "x"},
    "rotate_webhook": {"overlap_hours": 1},
    "create_fault_finding": {"complaint": "misfire_in_damp", "last_ran_well": "2021-06-01"},
    "create_fault_finding_step": {"check": "rotor_ohms", "outcome": "good"},
    "create_fault_finding_closing": {"cured": False},
    "create_complaint": {"id": "squeals", "title": "x", "causes": [{"kinds": ["v_belt"], "weight": 9}]},
    "create_check": {
        "id": "water_on_the_belt",
        "name": "x",
        "targets": ["v_belt"],
        "sensitivity": 0.9,
        "specificity": 0.9,
        "minutes": 2,
    },
}
OF_ONE_FLEET = (
    "vehicle_id",
    "reading_id",
    "fitment_id",
    "inspection_id",
    "repair_id",
    "job_id",
    "key_id",
    "calendar_id",
    "week",
    "subscription_id",
    "finding_id",
    "check",
    "complaint",
    "import_id",
    "webhook_id",
    "delivery_id",
    "plan_id",
)


OF_ALL = ("kind", "records")
"""Words that are the same for every fleet: part kinds, kinds of records."""


def all_operations():
    document = create_app(Settings(jobs=False)).openapi()
    for path, methods in sorted(document["paths"].items()):
        if path.startswith("/v1/"):
            for method, operation in methods.items():
                yield pytest.param(method.upper(), path, operation, id=operation["operationId"])


OPERATIONS = list(all_operations())


class Owner:
    """A fleet with one of everything, and the ids of it."""

    def __init__(self, fleet):
        self.fleet = fleet
        self.ids = {"kind": "rotor_arm", "records": "vehicles"}
        with fleet.client("admin") as client:
            self.client = client
            self.make("vehicle_id", "/v1/vehicles", "create_vehicle")
            self.make("reading_id", "/v1/vehicles/{vehicle_id}/odometer-readings", "create_odometer_reading")
            self.make("fitment_id", "/v1/vehicles/{vehicle_id}/fitments", "create_fitment")
            self.make("inspection_id", "/v1/fitments/{fitment_id}/inspections", "create_inspection")
            self.make("repair_id", "/v1/fitments/{fitment_id}/repairs", "create_repair")
            self.client.post(
                "/v1/fitments/{fitment_id}/put-off".format(**self.ids), json=BODIES["create_put_off"]
            )
            self.make("plan_id", "/v1/vehicles/{vehicle_id}/planned-use", "create_planned_use")
            self.make("finding_id", "/v1/vehicles/{vehicle_id}/fault-findings", "create_fault_finding")
            self.make("removal_id", "/v1/fitments/{fitment_id}/removal", "create_removal")
            self.make("key_id", "/v1/keys", "create_key")
            self.make("calendar_id", "/v1/calendar", "create_calendar")
            self.make("subscription_id", "/v1/digest-subscriptions", "create_digest_subscription")
            self.make("import_id", "/v1/imports", "create_import")
            for name in ("complaint", "check"):
                own = {**BODIES[f"create_{name}"], "id": f"the_owners_{name}"}
                self.client.post(f"/v1/{name}s", json=own).raise_for_status()
                self.ids[name] = own["id"]
            self.make("webhook_id", "/v1/webhooks", "create_webhook")
            self.client.post("/v1/webhooks/{webhook_id}/ping".format(**self.ids)).raise_for_status()
            deliveries = self.client.get("/v1/webhooks/{webhook_id}/deliveries".format(**self.ids)).json()
            self.ids["delivery_id"] = deliveries["items"][0]["id"]
            made = self.client.post("/v1/digests").raise_for_status()
            self.ids["week"] = self.fleet.wait_for_job(made.headers["Location"])["result"]["week"]
            self.make("job_id", "/v1/part-kinds/rotor_arm/refits", None)

    def make(self, name, path, operation):
        response = self.client.post(path.format(**self.ids), json=BODIES.get(operation))
        assert response.is_success, f"{path}: {response.text}"
        self.ids[name] = response.json()["id"]


@pytest.fixture(scope="module")
def owner(service):
    return Owner(service.fleet())


def ask(client, owner, method, path, operation):
    body = BODIES.get(operation["operationId"])
    headers = {"If-Match": "*"} if method in {"PATCH", "PUT", "DELETE"} else {}
    return client.request(method, path.format(**owner.ids), json=body, headers=headers)


def check(response, status):
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(("method", "path", "operation"), OPERATIONS)
def test_without_a_key(service, owner, method, path, operation):
    with httpx.Client(base_url=service.base_url) as nobody:
        check(ask(nobody, owner, method, path, operation), 401)


@pytest.mark.parametrize(("method", "path", "operation"), OPERATIONS)
def test_with_a_scope_too_small(owner, method, path, operation):
    too_small = "write" if path.startswith("/v1/keys") else "read"
    if method == "GET" and too_small == "read":
        with owner.fleet.client("read") as reading:
            assert ask(reading, owner, method, path, operation).is_success
        return
    with owner.fleet.client(too_small) as asking:
        check(ask(asking, owner, method, path, operation), 403)


@pytest.mark.parametrize(("method", "path", "operation"), OPERATIONS)
def test_another_fleets_id_is_not_there(stranger, owner, method, path, operation):
    if not any(f"{{{name}}}" in path for name in OF_ONE_FLEET):
        answer = ask(stranger, owner, method, path, operation)
        assert answer.is_success, answer.text
        shown = [
            name
            for name, value in owner.ids.items()
            if name not in {"kind", "records"} and value in answer.text
        ]
        assert shown == []
        return
    check(ask(stranger, owner, method, path, operation), 404)


def flat(router):
    """The routes of a router and of those that it includes."""
    for route in router.routes:
        inner = getattr(route, "original_router", None)
        yield from [route] if inner is None else flat(inner)


def test_no_route_is_hidden_from_the_walk():
    """The walk goes by the document: whatever the rooms route under /v1 stands in it."""
    walked = {(method, path) for method, path, _ in (parameter.values for parameter in OPERATIONS)}
    routed = {
        (method, route.path)
        for router in ROUTERS
        for route in flat(router)
        for method in route.methods - {"HEAD"}
        if route.path.startswith("/v1/")
    }
    assert len(routed) > 50
    assert routed == walked


def test_every_id_in_an_address_is_one_fleets_or_the_catalogues(owner):
    """A new kind of id has to be added here, or the walk stops: it cannot be passed over."""
    in_addresses = {
        name[1:-1] for parameter in OPERATIONS for name in re.findall(r"{\w+}", parameter.values[1])
    }
    assert in_addresses == {*OF_ONE_FLEET, *OF_ALL}
    assert in_addresses <= owner.ids.keys()


def test_feeds_show_nothing_of_another_fleet(stranger, owner, nobody):
    made = stranger.post("/v1/calendar", json={}).raise_for_status().json()
    feed = nobody.get(httpx.URL(made["address"]).path).raise_for_status().text
    with owner.fleet.client("read") as own:
        assert own.get("/v1/vehicles").json()["items"]
    assert [name for name, value in owner.ids.items() if name not in OF_ALL and value in feed] == []
    wrong = nobody.get(f"/calendar/{owner.ids['calendar_id']}.ics")
    check(wrong, 404)


def test_after_all_that_the_owner_has_everything_still(owner):
    with owner.fleet.client("admin") as client:
        for path in ("/v1/vehicles/{vehicle_id}", "/v1/fitments/{fitment_id}/removal", "/v1/keys/{key_id}"):
            assert client.get(path.format(**owner.ids)).status_code == 200
        assert client.get("/v1/keys/{key_id}".format(**owner.ids)).json()["revoked_at"] is None
