"""A name in a query that an operation does not have is refused, for every operation that the document lists."""

import re

import pytest

from api.app import create_app
from api.settings import Settings

PATHS = sorted(
    path
    for path, methods in create_app(Settings(jobs=False)).openapi()["paths"].items()
    if path.startswith("/v1/") and "get" in methods
)


@pytest.mark.parametrize("path", PATHS)
def test_a_name_that_is_none_is_named(admin, path):
    response = admin.get(re.sub(r"\{\w+\}", "x", path), params={"colour": "red"})
    assert response.status_code == 422, response.text
    assert response.headers["content-type"] == "application/problem+json"
    assert [entry["field"] for entry in response.json()["errors"]] == ["colour"]


def test_the_nearest_name_is_offered(admin):
    (error,) = admin.get("/v1/due-soon", params={"within_day": 5}).json()["errors"]
    assert error == {"field": "within_day", "wanted": "within_days?", "got": "within_day"}


def test_names_that_are_known_pass(admin):
    assert admin.get("/v1/due-soon", params={"within_days": 5, "limit": 1}).status_code == 200


def test_a_change_with_a_query_is_refused_and_changes_nothing(admin):
    body = {"name": "x", "distance_unit": "km"}
    assert admin.post("/v1/vehicles", params={"dry_run": "true"}, json=body).status_code == 422
    assert admin.get("/v1/vehicles").json()["items"] == []


def test_without_a_key_nothing_is_said_about_names(nobody):
    assert nobody.get("/v1/due-soon", params={"colour": "red"}).status_code == 401


def test_other_addresses_take_what_programs_add(nobody):
    assert nobody.get("/healthz", params={"from": "a monitor"}).status_code == 200
