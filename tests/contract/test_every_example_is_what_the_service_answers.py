"""Every example in ``openapi_examples`` is replayed against a real service; the answer has the shape that is shown."""

import re

import pytest

from api.app import create_app
from api.openapi import examples
from api.settings import Settings
from tests.contract.replay import differences, replay, unlike

EXAMPLES = list(examples())


@pytest.fixture(scope="module")
def document():
    return create_app(Settings(jobs=False)).openapi()


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: f"{example.operation}-{example.case}")
def test_the_answer_is_as_shown(service, example):
    response = replay(example, service.fleet())
    assert response.status_code == example.response["status"], response.text
    assert unlike(example, response) == []


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: f"{example.operation}-{example.case}")
def test_the_request_is_of_the_operation_that_it_stands_under(document, example):
    path = example.request["path"].split("?")[0]
    method = example.request["method"].lower()
    fitting = [
        methods[method]["operationId"]
        for template, methods in document["paths"].items()
        if method in methods and re.fullmatch(re.sub(r"\{[^}]+\}", "[^/]+", template), path)
    ]
    assert fitting
    assert example.operation in fitting


def operations(document):
    return {
        operation["operationId"]
        for path, methods in document["paths"].items()
        for operation in methods.values()
        if path.startswith("/v1/")
    }


def test_every_operation_shows_a_success_and_a_refusal(document):
    shown = {True: set(), False: set()}
    for example in EXAMPLES:
        shown[example.response["status"] < 400].add(example.operation)
    missing = {
        f"{name}: no {'success' if success else 'refusal'}"
        for success in (True, False)
        for name in operations(document) - shown[success]
    }
    assert sorted(missing) == []


def test_the_document_shows_every_example(document):
    text = str(document)
    for example in EXAMPLES:
        if example.response.get("body") is not None:
            assert f"'{example.case.replace('_', '-')}'" in text


def test_a_wrong_answer_differs():
    shown = {"a": 1, "b": [{"c": "x"}], "d": None}
    assert differences(shown, {"a": 2.5, "b": [{"c": "y"}, {"c": "z"}], "d": None}) == []
    for got in (
        {"a": "1", "b": [{"c": "x"}], "d": None},
        {"a": True, "b": [{"c": "x"}], "d": None},
        {"a": 1, "b": [], "d": None},
        {"a": 1, "b": [{"c": "x"}, {}], "d": None},
        {"a": 1, "b": [{"c": "x"}], "d": 0},
        {"a": 1, "b": [{"c": "x"}]},
        {"a": 1, "b": [{"c": "x"}], "d": None, "e": 1},
    ):
        assert differences(shown, got), got
    problem = {"type": "/problems/conflict", "title": "t", "status": 409}
    assert differences(problem, {**problem, "type": "/problems/malformed"})
