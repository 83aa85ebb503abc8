"""The OpenAPI document: examples from ``openapi_examples`` put in, refusals described as problems.

An example is a pair of files, ``openapi_examples/<operation>/<case>.request.json`` and ``….response.json``:

    request   {"method": "POST", "path": "/v1/vehicles", "body": {…}, "headers": {…}, "needs": [step, …], "key": "write"}
    response  {"status": 201, "body": {…}}

``needs`` are requests made before (method, path, body, and ``keep``: {name: dotted path into the answer}); a kept name
stands in later paths, headers and bodies as ``{name}``, an answer's header as ``header.<Name>``. ``key`` is the scope
of the key that asks: "read", "write" (default), "admin" or "none". ``varies`` names places of the answer (dotted) that
depend on the moment. ``needs``, ``key`` and ``varies`` are for the replaying tests, and ``python -m
tests.contract.replay`` writes answers that are missing; the document shows path, body, status and answer.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fastapi.openapi.utils import get_openapi

from api import problems
from api.shipped import shipped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fastapi import FastAPI

_PROBLEM = "application/problem+json"
_REFUSALS: dict[str, type[problems.ServiceProblem]] = {
    "401": problems.Unauthorised,
    "403": problems.Forbidden,
    "404": problems.NotFound,
    "409": problems.Conflict,
    "412": problems.PreconditionFailed,
    "413": problems.TooLarge,
    "415": problems.WrongMedia,
    "422": problems.Malformed,
    "428": problems.PreconditionRequired,
    "429": problems.TooManyRequests,
    "503": problems.Busy,
}


@dataclass(frozen=True)
class Example:
    """One worked case of one operation.

    Attributes:
        operation: the operation's id.
        case: what it shows, from the file's name.
        request, response: the two files' contents.
    """

    operation: str
    case: str
    request: dict[str, Any]
    response: dict[str, Any]


def examples() -> Iterator[Example]:
    """Every example that travels with the program, in order of operation and case."""
    for asked in sorted(shipped("openapi_examples").glob("*/*.request.json")):
        case = asked.name.removesuffix(".request.json")
        answered = asked.with_name(f"{case}.response.json")
        yield Example(asked.parent.name, case, _read(asked), _read(answered))


def _read(path: Any) -> dict[str, Any]:
    content: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return content


def install(app: FastAPI) -> None:
    """Let the application answer with our document, made once."""
    app.openapi = lambda: _cached(app)  # type: ignore[method-assign]  # the framework's documented way


def _cached(app: FastAPI) -> dict[str, Any]:
    if app.openapi_schema is None:
        app.openapi_schema = document(app)
    return app.openapi_schema


def document(app: FastAPI) -> dict[str, Any]:
    """The whole document."""
    made = get_openapi(
        title=app.title, version=app.version, summary=app.summary, routes=app.routes, openapi_version="3.1.0"
    )
    made["components"]["schemas"].update(_problem_schemas())
    made["components"]["schemas"].pop("HTTPValidationError", None)
    made["components"]["schemas"].pop("ValidationError", None)
    for path, methods in made["paths"].items():
        for method, operation in methods.items():
            _describe_refusals(path, method, operation)
    _put_examples(made)
    return made


def _problem_schemas() -> dict[str, Any]:
    text = {"type": "string"}
    entry = {"type": "object", "properties": {"field": text, "wanted": text, "got": text}}
    properties = {
        "type": {"type": "string", "format": "uri-reference"},
        "title": text,
        "status": {"type": "integer"},
        "detail": text,
        "field": text,
        "errors": {"type": "array", "items": {**entry, "required": ["field", "wanted", "got"]}},
    }
    described = {"type": "object", "required": ["type", "title", "status"], "properties": properties}
    return {"Problem": {**described, "description": "RFC 9457; `/problems` lists the types."}}


def _describe_refusals(path: str, method: str, operation: dict[str, Any]) -> None:
    """Say which refusals an operation may answer with."""
    answers = operation["responses"]
    answers.pop("422", None)
    for status in _statuses(path, method, operation):
        kind = _REFUSALS[status]
        content = {_PROBLEM: {"schema": {"$ref": "#/components/schemas/Problem"}}}
        answers[status] = {"description": str(kind.title), "content": content}
    if any(found["name"] == "If-None-Match" for found in operation.get("parameters", [])):
        answers["304"] = {"description": "The state that you hold is current"}
    if _repeatable(method, operation):
        operation.setdefault("parameters", []).append(_IDEMPOTENCY_KEY)


def _statuses(path: str, method: str, operation: dict[str, Any]) -> list[str]:
    if not operation.get("security"):
        return ["422"] + (["404"] if "{" in path else []) + (["503"] if path == "/readyz" else [])
    found = ["401", "403", "422", "429", "503"]
    names = {parameter["name"] for parameter in operation.get("parameters", [])}
    if "{" in path or "cursor" in names:
        found.append("404")
    if method != "get" or operation.get("operationId") in _READS_THAT_NAME_PARTS:
        found.append("409")
    if "requestBody" in operation:
        found += ["413", "415"]
    if "If-Match" in names:
        found += ["412", "428"]
    return sorted(found)


_READS_THAT_NAME_PARTS = {"read_tour_risk"}
"""Reads whose question may name a part that the stored records don't have on the car."""

_SHOWN_ONCE = {"create_key", "create_calendar", "rotate_calendar", "create_webhook", "rotate_webhook"}
"""Answers that hold a secret, and so are kept nowhere."""

_IDEMPOTENCY_KEY = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "Repeats of this request under the same key get the first one's answer and do nothing.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[ -~]+$"},
}


def _repeatable(method: str, operation: dict[str, Any]) -> bool:
    return method == "post" and operation["operationId"] not in _SHOWN_ONCE


def _put_examples(made: dict[str, Any]) -> None:
    """Show each example at its operation's body and answer."""
    operations = {
        operation["operationId"]: operation
        for methods in made["paths"].values()
        for operation in methods.values()
    }
    for example in examples():
        operation = operations.get(example.operation)
        if operation is None:
            raise LookupError(f"openapi_examples/{example.operation}: no operation of that name")
        _show_request(operation, example)
        answer = operation["responses"].get(str(example.response["status"]))
        if answer is None:
            raise LookupError(
                f"{example.operation}/{example.case}: status {example.response['status']} is undocumented"
            )
        for content in answer.get("content", {}).values():
            _show(content, example.case, example.response.get("body"))


def _show_request(operation: dict[str, Any], example: Example) -> None:
    """Show the body; a malformed one apart from the good ones, which a reader may copy."""
    body = example.request.get("body")
    if body is None:
        return
    if example.response["status"] == problems.Malformed.status:
        _show(operation.setdefault("x-malformed-requests", {}), example.case, body)
    else:
        media = example.request.get("headers", {}).get("Content-Type", "application/json")
        _show(operation["requestBody"]["content"][media], example.case, body)


def _show(content: dict[str, Any], case: str, value: Any) -> None:
    content.setdefault("examples", {})[case.replace("_", "-")] = {"value": value}
