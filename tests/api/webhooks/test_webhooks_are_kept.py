"""Webhooks as records: made, changed by who knows their state, their secrets shown once, invisible to other fleets."""

import base64

import pytest

from api.storage.tables import Webhook
from api.webhooks import service


def test_a_secret_is_long_enough_and_shown_once(add_hook, client):
    hook = add_hook()
    assert 24 <= len(base64.b64decode(hook["secret"].removeprefix("whsec_"), validate=True)) <= 64
    assert hook["secret"] not in client.get(f"/v1/webhooks/{hook['id']}").text
    assert hook["secret"] not in client.get("/v1/webhooks").text


def test_a_webhook_is_changed_only_by_who_knows_its_state(add_hook, client):
    hook = add_hook(external_ref="erp-7")
    path = f"/v1/webhooks/{hook['id']}"
    read = client.get(path)
    tag = read.headers["etag"]
    assert client.get(path, headers={"If-None-Match": tag}).status_code == 304
    assert client.patch(path, json={"label": "x"}).status_code == 428
    changed = client.patch(path, json={"label": "x"}, headers={"If-Match": tag}).raise_for_status()
    assert (changed.json()["label"], changed.json()["external_ref"]) == ("x", "erp-7")
    assert client.patch(path, json={"label": "y"}, headers={"If-Match": tag}).status_code == 412
    emptied = client.patch(path, json={"external_ref": None}, headers={"If-Match": "*"}).json()
    assert (emptied["external_ref"], emptied["label"]) == (None, "x")
    assert client.patch(path, json={"url": None}, headers={"If-Match": "*"}).status_code == 422
    assert client.delete(path, headers={"If-Match": tag}).status_code == 412
    assert client.delete(path).status_code == 204
    assert client.get(path).status_code == 404


def test_one_more_than_a_fleet_may_have_is_not_switched_on_again_either(
    add_hook, client, receiver, monkeypatch
):
    monkeypatch.setattr(service, "MOST", 2)

    def switch(hook, *, on):
        path = f"/v1/webhooks/{hook['id']}"
        return client.patch(path, json={"enabled": on}, headers={"If-Match": "*"})

    first, second = add_hook(), add_hook()
    refused = client.post("/v1/webhooks", json={"url": receiver.url(), "events": ["digest.ready"]})
    assert refused.status_code == 409
    assert switch(first, on=False).json()["enabled"] is False
    add_hook()
    refused = switch(first, on=True)
    assert (refused.status_code, refused.json()["field"]) == (409, "enabled")
    assert client.get(f"/v1/webhooks/{first['id']}").json()["enabled"] is False
    assert switch(second, on=True).status_code == 200  # it is on already
    assert switch(second, on=False).status_code == 200
    assert switch(first, on=True).json()["enabled"] is True


def test_a_name_of_another_system_is_taken_once(add_hook, client, receiver):
    add_hook(external_ref="erp-7")
    again = {"url": receiver.url(), "events": ["digest.ready"], "external_ref": "erp-7"}
    assert client.post("/v1/webhooks", json=again).status_code == 409


def test_a_secret_is_not_asked_for_again(client, receiver, listed):
    body = {"url": receiver.url(), "events": ["digest.ready"]}
    refused = client.post("/v1/webhooks", json=body, headers={"Idempotency-Key": "1"})
    assert refused.status_code == 422
    assert client.get("/v1/webhooks").json()["items"] == []


@pytest.mark.parametrize("events", [[], ["digest.ready", "digest.ready"], ["all"], "digest.ready", None])
def test_events_that_nobody_knows_are_refused(client, receiver, listed, events):
    refused = client.post("/v1/webhooks", json={"url": receiver.url(), "events": events})
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["field"].startswith("events")


def test_another_fleet_sees_nothing_of_it(add_hook, ping, stranger, client):
    hook = add_hook()
    ping(hook)
    (listed,) = client.get(f"/v1/webhooks/{hook['id']}/deliveries").json()["items"]
    assert stranger.get("/v1/webhooks").json()["items"] == []
    for path in ("", "/deliveries", f"/deliveries/{listed['id']}"):
        assert stranger.get(f"/v1/webhooks/{hook['id']}{path}").status_code == 404


def test_the_first_reason_for_switching_off_stays():
    row = Webhook(fleet_id="f", url="https://x.example", events=["digest.ready"])
    service.disable(row, service.GONE)
    service.disable(row, service.SWITCHED_OFF)
    assert row.disabled_because == "gone"
