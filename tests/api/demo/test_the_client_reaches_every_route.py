"""Every operation of the service's own OpenAPI document is called by some method of the client, and nothing else is."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator

import httpx
import pytest

from api.app import create_app
from api.client import WearwrightClient
from api.settings import Settings

NOT_ROUTES = {"close", "wait_for_job", "import_file", "export_file"}
ARGUMENTS = {"content": b"x", "body": {}, "changes": {}, "etag": '"1"'}


@pytest.fixture(scope="module")
def documented() -> set[tuple[str, str]]:
    paths = create_app(Settings(jobs=False)).openapi()["paths"]
    return {
        (method.upper(), re.sub(r"\{\w+\}", "*", path))
        for path, operations in paths.items()
        for method in operations
        if path.startswith("/v1/")
    }


@pytest.fixture(scope="module")
def called() -> set[tuple[str, str]]:
    calls = set()

    def answer(request: httpx.Request) -> httpx.Response:
        calls.add((request.method, request.url.path))
        content = {"items": [], "state": "succeeded", "do_not_drive": []}
        return httpx.Response(200, json=content, headers={"ETag": '"1"'})

    client = WearwrightClient("http://nowhere.invalid", "ww_a_b")
    client._wire._http = httpx.Client(
        base_url="http://nowhere.invalid", transport=httpx.MockTransport(answer)
    )
    for name, method in inspect.getmembers(client, inspect.ismethod):
        if name.startswith("_") or name in NOT_ROUTES:
            continue
        wanted = [p for p in inspect.signature(method).parameters.values() if p.default is p.empty]
        result = method(*(ARGUMENTS.get(p.name, "*") for p in wanted))
        if isinstance(result, Iterator):
            list(result)
    return calls


def test_every_route_has_a_method(documented, called):
    assert documented - called == set()


def test_no_method_calls_a_route_that_is_not_there(documented, called):
    assert called - documented == set()
