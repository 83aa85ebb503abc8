"""RFC 9457: whatever is refused is refused in one form; an unforeseen error shows nothing inside."""

import json

import pytest

from api import logs
from api.problems import kinds
from tests.api.conventions.planted import INSIDE


def check(response, status, kind):
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    problem = response.json()
    assert problem["type"] == f"/problems/{kind}"
    assert problem["status"] == status
    assert problem["title"]
    return problem


def test_unforeseen_error_shows_nothing_inside_and_can_be_found_in_the_log(planted_client, capfd):
    logs.configure("warning", as_json=True)  # onto the captured standard error
    response = planted_client.get("/planted/unforeseen")
    check(response, 500, "internal-error")
    assert "4711" not in response.text
    assert "RuntimeError" not in response.text
    line = next(line for line in capfd.readouterr().err.splitlines() if "unforeseen error" in line)
    event = json.loads(line)
    assert event["request_id"] == response.headers["x-request-id"]
    assert INSIDE in event["exception"]


def test_an_answer_of_the_wrong_shape_shows_nothing_inside(planted_client):
    response = planted_client.get("/planted/wrong-answer")
    check(response, 500, "internal-error")
    assert INSIDE not in response.text


def test_what_the_planner_refuses_as_input_is_malformed_and_names_the_field(planted_client):
    problem = check(planted_client.get("/planted/wrong-input"), 422, "malformed")
    assert problem["errors"] == [{"field": "upper", "wanted": "at least lower", "got": "-1"}]


def test_what_the_planner_cannot_fit_is_a_conflict_with_the_records(planted_client):
    problem = check(planted_client.get("/planted/no-fit"), 409, "data-cannot-carry")
    assert "there is one" in problem["detail"]


def test_unknown_address(client):
    check(client.get("/v1/nothing"), 404, "not-found")


def test_wrong_method_names_all_methods_of_the_address(admin):
    response = admin.put("/v1/keys", json={})
    check(response, 405, "wrong-method")
    assert response.headers["allow"] == "GET, HEAD, POST"


def test_no_key(nobody):
    response = nobody.get("/v1/keys")
    check(response, 401, "no-key")
    assert response.headers["www-authenticate"] == "Bearer"


@pytest.mark.parametrize(
    "header",
    [
        "Bearer",
        "Bearer ww_",
        "Bearer ww_x_y",
        "Basic abc",
        "ww_x_y",
        "Bearer ww_é_y",
        "Bearer a b c",
    ],
)
def test_a_key_that_is_none(nobody, header):
    check(nobody.get("/v1/keys", headers={"Authorization": header.encode("latin-1")}), 401, "no-key")


def test_every_type_is_explained_at_its_own_address(nobody):
    whole = nobody.get("/problems").text
    for name, kind in kinds().items():
        page = nobody.get(f"/problems/{name}")
        assert page.status_code == 200
        assert kind.title in page.text
        assert kind.help, f"{name} says nothing about what to do"
        assert kind.help in page.text
        assert kind.help in whole
    check(nobody.get("/problems/none-such"), 404, "not-found")


def test_a_failed_commit_is_answered_as_a_failure(planted_client):
    """The session commits before the answer is sent: a 201 for what was not stored would be a lie."""
    check(planted_client.post("/planted/fails-at-commit"), 409, "conflict")
    assert planted_client.get("/planted/names").json() == []


def test_an_error_after_writing_leaves_nothing_half_done(planted_client):
    check(planted_client.post("/planted/fails-after-writing"), 500, "internal-error")
    assert planted_client.get("/planted/names").json() == []


def test_a_read_session_cannot_write(planted_client):
    check(planted_client.get("/planted/writes-while-reading"), 500, "internal-error")
    assert planted_client.get("/planted/names").json() == []
