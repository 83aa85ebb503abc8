"""A body that is wrong by itself: 422 with field, wanted and got; too large 413; another media type 415; never 5xx."""

import gzip
import json

import pytest

JSON = {"content-type": "application/json"}


def post(client, content, **headers):
    return client.post("/planted/echo", content=content, headers={**JSON, **headers})


def refusals(response):
    assert response.status_code == 422, response.text
    assert response.headers["content-type"] == "application/problem+json"
    return {entry["field"]: (entry["wanted"], entry["got"]) for entry in response.json()["errors"]}


def test_a_good_body_passes(planted_client):
    assert planted_client.post("/planted/echo", json={"number": 1.5}).json()["number"] == 1.5


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999"])
def test_numbers_that_are_not_finite(planted_client, number):
    errors = refusals(post(planted_client, f'{{"number": {number}}}'.encode()))
    assert errors["number"][0] == "a finite number"


def test_not_finite_deeper_inside(planted_client):
    assert "inner.a" in refusals(post(planted_client, b'{"inner": {"a": NaN}}'))


def test_every_wrong_field_is_named_with_what_was_wanted_and_got(planted_client):
    errors = refusals(
        planted_client.post(
            "/planted/echo", json={"number": "six", "colour": "red", "count": 1.5, "flag": "true"}
        )
    )
    assert errors["number"] == ("a number", "six")
    assert errors["colour"] == ("no field of this name", "red")
    assert errors["count"][1] == "1.5"
    assert errors["flag"] == ("true or false", "'true'")  # text, which without quotes would look right


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("number", "5"),
        ("number", True),
        ("count", "5"),
        ("count", False),
        ("name", 5),
        ("name", True),
        ("flag", 1),
        ("flag", "true"),
        ("day", 0),
        ("day", "0"),
        ("day", "2024-5-7"),
        ("day", "2024-02-30"),
        ("day", "2024-05-17T00:00:00Z"),
        ("moment", 0),
        ("moment", "1715904000"),
        ("moment", "2024-05-17"),
        ("moment", "2024-05-17T12:00:00"),
    ],
)
def test_a_value_of_another_type_is_not_converted(planted_client, field, value):
    """JSON Schema has no conversions; a client that sends "5" for 5 has a fault that should show."""
    assert field in refusals(planted_client.post("/planted/echo", json={field: value}))


def test_values_of_the_right_type_pass(planted_client):
    body = {"number": 5, "count": 5, "flag": True, "day": "2024-05-17", "moment": "2024-05-17T12:00:00+02:00"}
    answer = planted_client.post("/planted/echo", json=body)
    assert answer.status_code == 200, answer.text
    assert answer.json()["day"] == "2024-05-17"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{",
        b"[1, 2",
        b"\xff\xfe{}",
        b'{"name": "\xe9"}',
        b"nothing",
        b"[]",
        b"null",
        b'"text"',
        b"[" * 50_000,
        b'{"inner":' * 50_000,
        b'{"count": ' + b"9" * 5000 + b"}",
        b'{"count": 99999999999}',
        b'{"name": "\\u0000"}',
        b'{"name": "\\ud800"}',
        b'{"\\ud800": 1}',
        b'{"number": {}}',
    ],
)
def test_what_is_no_good_json_is_malformed(planted_client, content):
    assert refusals(post(planted_client, content))


def test_a_body_over_the_limit_by_its_length(planted_client):
    response = post(planted_client, b'{"name": "' + b"x" * 1_100_000 + b'"}')
    assert response.status_code == 413
    assert response.headers["content-type"] == "application/problem+json"


def test_a_body_over_the_limit_that_does_not_say_its_length(planted_client):
    def chunks():
        yield b'{"name": "'
        for _ in range(30):
            yield b"x" * 100_000
        yield b'"}'

    response = post(planted_client, chunks())
    assert response.status_code == 413
    assert response.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize("media", ["text/plain", "application/xml", "application/x-www-form-urlencoded", ""])
def test_another_media_type(planted_client, media):
    response = planted_client.post("/planted/echo", content=b"{}", headers={"content-type": media})
    assert response.status_code == 415
    assert response.headers["content-type"] == "application/problem+json"


def test_a_compressed_body_is_not_unpacked(planted_client):
    bomb = gzip.compress(json.dumps({"name": "x" * 50_000_000}).encode())
    assert len(bomb) < 100_000
    assert post(planted_client, bomb, **{"content-encoding": "gzip"}).status_code == 415


@pytest.mark.parametrize(
    ("address", "status"),
    [("/v1/jobs/%00", 404), ("/v1/%00", 404), ("/v1/jobs?cursor=%00", 422), ("/v1/jobs?x=%00", 422)],
)
def test_nul_in_an_address(client, address, status):
    response = client.get(address)
    assert response.status_code == status
    assert response.headers["content-type"] == "application/problem+json"
