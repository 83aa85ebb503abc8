"""The client repeats what may be repeated, waits as told, and raises refusals with all that they say."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime

import httpx
import pytest

from api.client import ProblemError, Retries, WearwrightClient
from tests.api.demo.scripted_service import Answer, scripted

QUICK = Retries(attempts=4, seconds=10.0, first_wait=0.01)
BUSY = {"type": "about:blank", "title": "Too busy", "status": 503, "detail": "later"}


def client(address):
    return WearwrightClient(address, "ww_aa_bb", retries=QUICK)


def test_a_lost_connection_is_tried_again_with_the_same_idempotency_key():
    with scripted(Answer(hang_up=True), Answer(201, {"id": "v1"})) as (address, asked), client(address) as c:
        assert c.add_vehicle({"name": "Dorothea"})["id"] == "v1"
    assert [a.method for a in asked] == ["POST", "POST"]
    assert asked[0].headers["Idempotency-Key"] == asked[1].headers["Idempotency-Key"]
    assert asked[1].headers["Authorization"] == "Bearer ww_aa_bb"


def test_two_posts_carry_different_idempotency_keys():
    with scripted(Answer(201), Answer(201)) as (address, asked), client(address) as c:
        c.add_vehicle({"name": "A"})
        c.add_vehicle({"name": "A"})
    assert asked[0].headers["Idempotency-Key"] != asked[1].headers["Idempotency-Key"]


@pytest.mark.parametrize("status", [429, 503])
def test_the_client_waits_as_long_as_the_service_says(status):
    busy = Answer(status, BUSY, {"Retry-After": "1"})
    with (
        scripted(busy, Answer(200, {"id": "j", "state": "running"})) as (address, asked),
        client(address) as c,
    ):
        start = time.monotonic()
        assert c.job("j")["state"] == "running"
        assert time.monotonic() - start >= 0.95
    assert len(asked) == 2


def test_retry_after_may_be_a_date():
    then = format_datetime(datetime.now(UTC) + timedelta(seconds=2), usegmt=True)
    with scripted(Answer(503, BUSY, {"Retry-After": then}), Answer()) as (address, _), client(address) as c:
        start = time.monotonic()
        c.fitment("f")
        assert time.monotonic() - start > 0.5


def test_a_change_that_was_lost_is_not_repeated():
    with (
        scripted(Answer(hang_up=True)) as (address, asked),
        client(address) as c,
        pytest.raises(httpx.TransportError),
    ):
        c.change_vehicle("v", {"name": "B"}, '"1"')
    assert len(asked) == 1
    assert asked[0].headers["If-Match"] == '"1"'


def test_a_key_that_is_shown_once_is_asked_for_once():
    with (
        scripted(Answer(hang_up=True)) as (address, asked),
        client(address) as c,
        pytest.raises(httpx.TransportError),
    ):
        c.add_key({"scope": "read"})
    assert len(asked) == 1
    assert "Idempotency-Key" not in asked[0].headers


def test_a_refusal_is_raised_at_once_with_its_fields():
    fault = {"field": "reading.value", "wanted": "at least 63402", "got": "12"}
    problem = {
        "type": "falling-odometer",
        "title": "Falls",
        "status": 409,
        "detail": "It falls.",
        "errors": [fault],
    }
    with (
        scripted(Answer(409, problem)) as (address, asked),
        client(address) as c,
        pytest.raises(ProblemError) as caught,
    ):
        c.add_odometer_reading("v", {})
    error = caught.value
    assert (error.status, error.type, error.title, error.detail) == (
        409,
        "falling-odometer",
        "Falls",
        "It falls.",
    )
    assert error.errors == [fault]
    assert "reading.value" in str(error)
    assert "at least 63402" in str(error)
    assert len(asked) == 1


def test_a_conflict_that_asks_for_patience_is_tried_again():
    with (
        scripted(Answer(409, BUSY, {"Retry-After": "0"}), Answer(201, {"id": "v"})) as (address, asked),
        client(address) as c,
    ):
        assert c.add_vehicle({"name": "A"})["id"] == "v"
    assert len(asked) == 2


def test_tries_come_to_an_end():
    with (
        scripted(*[Answer(503, BUSY)] * 9) as (address, asked),
        client(address) as c,
        pytest.raises(ProblemError, match="503 Too busy: later"),
    ):
        c.job("j")
    assert len(asked) == QUICK.attempts


def test_pages_are_followed_to_the_last():
    onward = {"Link": '</v1/vehicles?cursor=two>; rel="next", </v1/vehicles>; rel="first"'}
    pages = [Answer(200, {"items": [{"id": 1}, {"id": 2}]}, onward), Answer(200, {"items": [{"id": 3}]})]
    with scripted(*pages) as (address, asked), client(address) as c:
        assert [v["id"] for v in c.vehicles(limit=2)] == [1, 2, 3]
    assert [a.path for a in asked] == ["/v1/vehicles?limit=2", "/v1/vehicles?cursor=two"]


def test_an_answer_from_something_else_is_named_as_such():
    with (
        scripted(Answer(200, ["not", "ours"])) as (address, _),
        client(address) as c,
        pytest.raises(TypeError, match="is this wearwright"),
    ):
        c.fitment("f")


def test_a_refusal_without_a_problem_body_still_says_its_status():
    with (
        scripted(Answer(404, "nothing here")) as (address, _),
        client(address) as c,
        pytest.raises(ProblemError) as caught,
    ):
        c.job("j")
    assert caught.value.status == 404
    assert caught.value.title == "Not Found"
    assert "nothing here" in caught.value.detail


def test_waiting_for_a_job_gives_up_with_its_state():
    with (
        scripted(*[Answer(200, {"state": "running"})] * 20) as (address, _),
        client(address) as c,
        pytest.raises(TimeoutError, match="still running"),
    ):
        c.wait_for_job("j", seconds=0.2, pause=0.05)
