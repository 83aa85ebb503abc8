"""What was wanted is said in words of JSON and of the trade, not of the library that checks."""

import re

import pytest

LIBRARY_WORDS = re.compile(
    r"valid (string|integer|number|dictionary|list|boolean)|dictionary|pydantic|parse|parsing|validation|"
    r"Input should|String should|extract fields|instance of|unable to",
    re.IGNORECASE,
)
BODIES = [
    *({}, [], "text", 5, None, {"name": 5}, {"name": None}, {"name": ""}, {"name": "x" * 500}),
    *({"name": ["x"]}, {"name": {}}, {"name": "x", "distance_unit": "furlong"}, {"joined_on": "May"}),
    *(
        {"joined_on": 5},
        {"joined_on": {}},
        {"joined_on": "1066-10-14"},
        {"built": 1964},
        {"built": "May 1964"},
    ),
    *({"system": []}, {"notes": 5}, {"external_ref": ""}, {"colour": "red"}),
]
READING_BODIES = [
    *({"reading": 5}, {"reading": {}}, {"reading": {"value": "5", "unit": "km"}}, {"reading": {"value": -1}}),
    *(
        {"reading": {"value": 1e9, "unit": "km"}},
        {"dial_digits": 5.5},
        {"dial_digits": "5"},
        {"dial_digits": 99},
    ),
    *({"new_instrument": "yes"}, {"read_on": "2020-13-01"}, {"read_on": "2020-01-01T00:00:00Z"}),
]
QUERIES = [
    {"limit": "many"},
    {"limit": 0},
    {"limit": 999},
    {"limit": 1.5},
    {"as_of": "today"},
    {"as_of": 0},
    {"within_days": ""},
]


def check(response):
    assert response.status_code == 422, response.text
    for error in response.json()["errors"]:
        assert error["wanted"]
        assert not LIBRARY_WORDS.search(error["wanted"]), error
        assert not re.search(r"[\[\]()]|function-", error["field"]), error


@pytest.mark.parametrize("body", BODIES, ids=repr)
def test_of_cars(client, body):
    check(client.post("/v1/vehicles", json=body))


@pytest.mark.parametrize("body", READING_BODIES, ids=repr)
def test_of_readings(client, body):
    check(client.post("/v1/vehicles/x/odometer-readings", json=body))


@pytest.mark.parametrize("query", QUERIES, ids=repr)
def test_of_queries(client, query):
    check(client.get("/v1/due-soon", params=query))


def test_bounds_are_said(client):
    def wanted(response):
        return response.json()["errors"][0]["wanted"]

    assert wanted(client.get("/v1/due-soon", params={"limit": 0})) == "at least 1"
    assert wanted(client.get("/v1/due-soon", params={"limit": 999})) == "at most 200"
    assert (
        wanted(client.post("/v1/vehicles", json={"name": "", "distance_unit": "km"}))
        == "at least 1 characters"
    )


def test_a_day_beyond_all_plans_is_told_as_a_day(reading):
    answer = reading.get("/v1/due-soon?as_of=2157-09-29")
    assert (answer.status_code, answer.json()["field"]) == (422, "as_of")
    assert answer.json()["errors"][0]["wanted"] == "at most 2150-01-01"
