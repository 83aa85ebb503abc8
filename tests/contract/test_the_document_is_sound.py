"""The OpenAPI 3.1 document: names, refusals, security; and the copy that the command prints is the one that is served."""

import json

import httpx
import pytest

from tests.api.support import command


@pytest.fixture(scope="module")
def document(service):
    return httpx.get(f"{service.base_url}/openapi.json", timeout=60).raise_for_status().json()


def all_operations(document):
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_it_is_openapi_3_1(document):
    assert document["openapi"].startswith("3.1")


def test_operations_have_stable_names_of_their_own(document):
    names = [operation["operationId"] for _, _, operation in all_operations(document)]
    assert len(names) == len(set(names))
    assert all(name.isidentifier() and name == name.lower() for name in names)


def test_every_operation_says_what_it_does(document):
    for path, method, operation in all_operations(document):
        assert operation.get("description"), f"{method} {path}"


def test_refusals_are_problems(document):
    for path, method, operation in all_operations(document):
        for status, answer in operation["responses"].items():
            if int(status) >= 400:
                assert list(answer["content"]) == ["application/problem+json"], f"{method} {path} {status}"


def test_every_operation_under_v1_needs_a_key(document):
    for path, method, operation in all_operations(document):
        assert bool(operation.get("security")) == path.startswith("/v1/"), f"{method} {path}"


def test_every_reference_leads_somewhere(document):
    def references(value):
        if isinstance(value, dict):
            if isinstance(value.get("$ref"), str):
                yield value["$ref"]
            for inner in value.values():
                yield from references(inner)
        elif isinstance(value, list):
            for inner in value:
                yield from references(inner)

    for reference in set(references(document)):
        place = document
        for part in reference.removeprefix("#/").split("/"):
            place = place[part]
        assert place


def test_the_command_prints_the_same_document(document):
    printed = command("openapi")
    assert printed.returncode == 0, printed.stderr
    assert json.loads(printed.stdout) == document
