"""Names in a query that an operation does not have are refused: a misspelt one would be ignored, and the answer wrong."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from fastapi import Request  # noqa: TC002 - the framework reads the annotation when it starts
from fastapi.concurrency import run_in_threadpool

from api.problems import Malformed
from api.security import principal_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fastapi.dependencies.models import Dependant
    from fastapi.routing import APIRoute

_known: dict[str, frozenset[str]] = {}


async def only_known(request: Request) -> None:
    """Refuse a query with a name that the operation does not have, from whoever has a key.

    Raises:
        Unauthorised: no key; nothing is said about names then.
        Malformed: names the first such name, and those that there are.
    """
    route: APIRoute | None = request.scope.get("route")
    if not request.query_params or route is None or not route.path.startswith("/v1/"):
        return
    known = _names(route)
    strange = [name for name in request.query_params if name not in known]
    if strange:
        await run_in_threadpool(principal_of, request)
        raise Malformed.of([_entry(name, known) for name in strange])


def _names(route: APIRoute) -> frozenset[str]:
    """The names that an operation's query may have; found once."""
    key = f"{route.operation_id or route.name} {route.path}"
    if key not in _known:
        _known[key] = frozenset(_of(route.dependant))
    return _known[key]


def _of(dependant: Dependant) -> Iterator[str]:
    """The names that a function and all that it depends on take from the query."""
    yield from (parameter.alias for parameter in dependant.query_params)
    for inner in dependant.dependencies:
        yield from _of(inner)


def _entry(name: str, known: frozenset[str]) -> dict[str, str]:
    near = get_close_matches(name, known, n=1)
    wanted = f"one of {', '.join(sorted(known))}" if known else "no query"
    return {"field": name[:200], "wanted": f"{near[0]}?" if near else wanted, "got": name[:80]}
