"""Deliveries as the Standard Webhooks specification wants them: signed, tried again, listed, replayed, one id each."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from api.jobs import Sessions
from api.storage.session import reading, writing
from api.storage.tables import Webhook, WebhookDelivery
from api.storage.types import utc_now
from api.webhooks import delivery
from tests.api.webhooks.verifier import UnverifiedError, verify


def stored(service_, table, row_id):
    with reading(service_.database) as session:
        return session.exec(select(table).where(table.id == row_id)).one()


def deliveries(client, hook, **query):
    return (
        client.get(f"/v1/webhooks/{hook['id']}/deliveries", params=query).raise_for_status().json()["items"]
    )


def try_now(service_, fleet, client, hook):
    """Let the clock find the later try of the latest delivery, and wait for it."""
    row_id = deliveries(client, hook)[0]["id"]
    with writing(service_.database) as session:
        session.get(WebhookDelivery, row_id).next_try_at = utc_now() - timedelta(seconds=1)
    delivery.tick(Sessions(service_.database), utc_now())
    return fleet.wait_for_job(f"/v1/jobs/{stored(service_, WebhookDelivery, row_id).job_id}")


def test_a_verifier_of_its_own_accepts_what_arrives(add_hook, ping, receiver, client):
    hook = add_hook()
    assert ping(hook)["result"] == {"state": "delivered", "status": 200, "problem": None}
    (got,) = receiver.got
    assert verify(hook["secret"], got.headers, got.body) == got.id
    assert got.headers["content-type"] == "application/json"
    said = json.loads(got.body)
    assert set(said) == {"type", "timestamp", "data"}
    assert said["type"] == "ping"
    assert datetime.fromisoformat(said["timestamp"]).tzinfo is not None
    (listed,) = deliveries(client, hook)
    assert (listed["event_id"], listed["state"], listed["attempts"]) == (got.id, "delivered", 1)


def test_whoever_changes_anything_is_found_out(add_hook, ping, receiver):
    hook, other = add_hook(), add_hook()
    ping(hook)
    (got,) = receiver.got
    with pytest.raises(UnverifiedError):
        verify(other["secret"], got.headers, got.body)
    with pytest.raises(UnverifiedError):
        verify(hook["secret"], got.headers, got.body.replace(b"ping", b"pong"))
    with pytest.raises(UnverifiedError):
        verify(hook["secret"], {**got.headers, "webhook-id": "another"}, got.body)
    with pytest.raises(UnverifiedError):
        verify(hook["secret"], got.headers, got.body, now=datetime.now(UTC).timestamp() + 301)


def test_while_secrets_overlap_both_sign(add_hook, ping, receiver, client):
    hook = add_hook()
    path = f"/v1/webhooks/{hook['id']}/rotation"
    new = client.post(path, json={"overlap_hours": 1}).raise_for_status().json()
    assert new["secret"] != hook["secret"]
    assert new["old_secret_until"] is not None
    ping(hook)
    (got,) = receiver.got
    assert verify(hook["secret"], got.headers, got.body) == verify(new["secret"], got.headers, got.body)
    assert len(got.headers["webhook-signature"].split(" ")) == 2


def test_after_the_overlap_the_old_secret_signs_no_more(add_hook, ping, receiver, client, service):
    hook = add_hook()
    newer = client.post(f"/v1/webhooks/{hook['id']}/rotation", json={"overlap_hours": 0}).json()
    assert newer["old_secret_until"] is None
    newest = client.post(f"/v1/webhooks/{hook['id']}/rotation", json={"overlap_hours": 1}).json()
    with writing(service.database) as session:  # the hour has passed
        row = session.get(Webhook, hook["id"])
        row.older = [{**one, "until": (utc_now() - timedelta(seconds=1)).isoformat()} for one in row.older]
    ping(hook)
    (got,) = receiver.got
    assert verify(newest["secret"], got.headers, got.body)
    for lapsed in (hook, newer):
        with pytest.raises(UnverifiedError):
            verify(lapsed["secret"], got.headers, got.body)


def test_what_fails_is_tried_again_under_the_same_id(add_hook, ping, receiver, client, service, fleet):
    hook = add_hook()
    receiver.answers = [(500, {}), (503, {})]
    assert ping(hook)["result"]["state"] == "waiting"
    (seen,) = deliveries(client, hook, state="waiting")
    assert (seen["status"], seen["problem"], seen["attempts"]) == (500, "answered 500", 1)
    assert seen["next_try_at"] is not None
    assert try_now(service, fleet, client, hook)["result"]["state"] == "waiting"
    assert try_now(service, fleet, client, hook)["result"]["state"] == "delivered"
    first, second, third = receiver.got
    assert first.id == second.id == third.id
    assert first.body == second.body == third.body
    (seen,) = deliveries(client, hook)
    assert (seen["state"], seen["attempts"], seen["problem"], seen["next_try_at"]) == (
        "delivered",
        3,
        None,
        None,
    )


def test_the_first_later_try_comes_by_itself(add_hook, ping, receiver, monkeypatch):
    monkeypatch.setattr(delivery, "WAITS", (timedelta(seconds=0.2), *delivery.WAITS[1:]))
    receiver.answers = [(500, {})]
    ping(add_hook())
    first, second = receiver.wait_for(2)
    assert first.id == second.id


def test_waits_grow_with_jitter_and_heed_retry_after():
    assert len(delivery.WAITS) >= 8
    assert list(delivery.WAITS) == sorted(delivery.WAITS)
    for tries, planned in enumerate(delivery.WAITS, start=1):
        rests = {delivery.rest(tries, None) for _ in range(200)}
        assert len(rests) > 100
        assert planned * 0.79 < min(rests) < planned * 0.9
        assert planned * 1.1 < max(rests) < planned * 1.21
    assert delivery.rest(1, 100.0) == timedelta(seconds=100)
    assert delivery.rest(2, 1.0) > timedelta(seconds=200)


@pytest.mark.parametrize("form", ["seconds", "date"])
def test_retry_after_is_honoured(add_hook, ping, receiver, client, form):
    hook = add_hook()
    moment = datetime.now(UTC) + timedelta(seconds=3600)
    text = "3600" if form == "seconds" else moment.strftime("%a, %d %b %Y %H:%M:%S GMT")
    receiver.answers = [(429, {"retry-after": text})]
    ping(hook)
    (seen,) = deliveries(client, hook)
    assert 3500 < (datetime.fromisoformat(seen["next_try_at"]) - datetime.now(UTC)).total_seconds() <= 3600


def test_gone_switches_the_webhook_off(add_hook, ping, receiver, client):
    hook = add_hook()
    receiver.answers = [(410, {})]
    assert ping(hook)["result"] == {"state": "dropped", "status": 410, "problem": "answered 410"}
    shown = client.get(f"/v1/webhooks/{hook['id']}").json()
    assert (shown["enabled"], shown["disabled_because"]) == (False, "gone")
    assert client.post(f"/v1/webhooks/{hook['id']}/ping").status_code == 409
    client.patch(
        f"/v1/webhooks/{hook['id']}", json={"enabled": True}, headers={"If-Match": "*"}
    ).raise_for_status()
    assert ping(hook)["result"]["state"] == "delivered"


def test_after_the_last_try_it_is_given_up_and_a_dead_webhook_is_switched_off(
    add_hook, ping, receiver, client, service, fleet, monkeypatch
):
    monkeypatch.setattr(delivery, "WAITS", (timedelta(hours=1),) * 2)
    hook = add_hook()
    receiver.answers = [(500, {})] * 3
    ping(hook)
    try_now(service, fleet, client, hook)
    assert client.get(f"/v1/webhooks/{hook['id']}").json()["enabled"]
    assert try_now(service, fleet, client, hook)["result"]["state"] == "given up"
    assert client.get(f"/v1/webhooks/{hook['id']}").json()["disabled_because"] == "failing"


def test_a_webhook_that_took_something_meanwhile_stays(
    add_hook, ping, receiver, client, service, fleet, monkeypatch
):
    monkeypatch.setattr(delivery, "WAITS", (timedelta(hours=1),))
    hook = add_hook()
    receiver.answers = [(500, {}), (200, {}), (500, {})]
    ping(hook)
    late = deliveries(client, hook)[0]["id"]
    ping(hook)
    with writing(service.database) as session:
        session.get(WebhookDelivery, late).next_try_at = utc_now() - timedelta(seconds=1)
    delivery.tick(Sessions(service.database), utc_now())
    job = fleet.wait_for_job(f"/v1/jobs/{stored(service, WebhookDelivery, late).job_id}")
    assert job["result"]["state"] == "given up"
    assert client.get(f"/v1/webhooks/{hook['id']}").json()["enabled"]


def test_a_redirect_is_not_followed(add_hook, ping, receiver):
    hook = add_hook()
    receiver.answers = [(307, {"location": receiver.url("/elsewhere")})]
    assert ping(hook)["result"]["problem"] == "answered 307; redirects are not followed"
    assert [got.path for got in receiver.got] == ["/hook"]


def test_what_was_delivered_is_replayed_under_the_same_id(add_hook, ping, receiver, client, fleet):
    hook = add_hook()
    ping(hook)
    (listed,) = deliveries(client, hook)
    path = f"/v1/webhooks/{hook['id']}/deliveries/{listed['id']}"
    again = fleet.wait_for_job(client.post(f"{path}/replay").raise_for_status().headers["Location"])
    assert again["result"]["state"] == "delivered"
    first, second = receiver.got
    assert (first.id, first.body) == (second.id, second.body)
    assert verify(hook["secret"], second.headers, second.body)
    shown = client.get(path).json()
    assert (shown["attempts"], shown["body"]) == (2, json.loads(first.body))


def test_what_waits_for_its_next_try_is_tried_at_once(add_hook, ping, receiver, client, fleet):
    hook = add_hook()
    receiver.answers = [(500, {})]
    ping(hook)
    (listed,) = deliveries(client, hook)
    again = client.post(f"/v1/webhooks/{hook['id']}/deliveries/{listed['id']}/replay").raise_for_status()
    assert fleet.wait_for_job(again.headers["Location"])["result"]["state"] == "delivered"


def test_an_answer_that_trickles_in_for_ever_is_cut_off(add_hook, ping, receiver, client, monkeypatch):
    import time

    from api.webhooks import posting

    monkeypatch.setattr(posting, "WHOLE_SECONDS", 1.0)

    def trickle(handler):
        handler.wfile.write(b"HTTP/1.1 200 OK\r\n")
        try:
            for number in range(100):
                handler.wfile.write(f"x-{number}: y\r\n".encode())
                time.sleep(0.1)
        except OSError:
            pass

    hook = add_hook()
    receiver.answers = [trickle]
    assert ping(hook)["result"]["problem"] == "no answer within 1 s"


def test_a_huge_answer_is_not_read(add_hook, ping, receiver):
    sent = []

    def flood(handler):
        handler.wfile.write(b"HTTP/1.1 200 OK\r\ncontent-length: 1000000000\r\n\r\n")
        try:
            while True:
                sent.append(handler.wfile.write(b"x" * 100_000))
        except OSError:
            pass

    receiver.answers = [flood]
    assert ping(add_hook())["result"]["state"] == "delivered"
    assert sum(sent) < 100_000_000


def test_a_rolled_back_change_tells_nothing(add_hook, service, fleet, client):
    from api.webhooks import outbox

    hook = add_hook()

    def tell_and_fail():
        with writing(service.database) as session:
            outbox.tell(session, fleet.id, "digest.ready", {})
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        tell_and_fail()
    assert deliveries(client, hook) == []
    with writing(service.database) as session:
        outbox.tell(session, fleet.id, "digest.ready", {})
        outbox.tell(session, fleet.id, "model.changed", {})
    assert [row["kind"] for row in deliveries(client, hook)] == ["digest.ready"]
