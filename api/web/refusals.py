"""Whatever is raised becomes a problem document; an unforeseen error shows nothing of what is inside."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import structlog
from fastapi.exceptions import RequestValidationError, ResponseValidationError
from fastapi_problem.handler import ExceptionHandler, add_exception_handler, new_exception_handler
from rfc9457 import Problem
from sqlalchemy.exc import DataError, IntegrityError, OperationalError
from sqlalchemy.orm.exc import StaleDataError
from starlette.responses import JSONResponse
from starlette.routing import compile_path

from api import problems
from api.storage import dialect
from api.web import wanted_words
from planner.errors import FitError, InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from fastapi import FastAPI
    from starlette.exceptions import HTTPException
    from starlette.requests import Request
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

log = structlog.get_logger(__name__)

_ALL_TEXT = {"query", "path", "header", "cookie"}
_SOURCES = {"body", *_ALL_TEXT}
_ANOTHER_TYPE = re.compile(r"[+-]?[\d.,]+([eE][+-]?\d+)?|true|false|null", re.IGNORECASE)


def install(app: FastAPI) -> None:
    """Let the application answer every error with a problem document."""
    handler = new_exception_handler(
        unhandled_wrappers={"default": problems.Internal},
        handlers={kind: _answering(make) for kind, make in _FORESEEN.items()},
        documentation_uri_template=problems.TYPE_TEMPLATE,
        http_exception_handler=lambda _handler, request, error: _from_http(request, error),
        request_validation_handler=_answering(_from_validation),
    )
    add_exception_handler(app, handler, generic_swagger_defaults=False)
    app.exception_handlers.pop(Exception)  # LastResort answers those, inside the other middleware
    app.add_middleware(LastResort)
    for kind in _FORESEEN:
        app.add_exception_handler(kind, handler)


def document(error: Exception, *, found_by: str) -> dict[str, Any]:
    """The problem document of an error outside a request: what a failed job stores.

    Args:
        error: what was raised.
        found_by: under what an unforeseen error's text is found in the log.
    """
    found = foreseen(error)
    if found is None or found.status >= 500:
        found = problems.Internal(found_by=found_by)
    return found.marshal(uri=problems.TYPE_TEMPLATE)


def foreseen(error: Exception) -> Problem | None:
    """The problem that a foreseen error is answered with; None for an unforeseen one."""
    if isinstance(error, Problem):
        return error
    if isinstance(error, RequestValidationError):
        return _from_validation(error)
    make = next((made for kind, made in _FORESEEN.items() if isinstance(error, kind)), None)
    return None if make is None else make(error)


def _answering(make: Callable[[Any], Problem]) -> Callable[[ExceptionHandler, Request, Any], Problem]:
    return lambda _handler, _request, error: make(error)


class LastResort:
    """Middleware that answers an unforeseen error, and writes its text to the log, where it belongs."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on; answer for what comes back as an exception."""
        began = False

        async def noting(message: Message) -> None:
            nonlocal began
            began = True
            await send(message)

        try:
            await self.app(scope, receive, noting)
        except Exception:
            log.exception("unforeseen error", path=scope.get("path"))
            if began or scope["type"] != "http":
                raise
            await answer(problems.Internal())(scope, receive, send)


def answer(problem: Problem) -> JSONResponse:
    """A problem as a response, for middleware."""
    content = problem.marshal(uri=problems.TYPE_TEMPLATE)
    headers = dict(problem.headers or {})
    return JSONResponse(content, problem.status, headers=headers, media_type="application/problem+json")


def _from_input(error: InputError) -> Problem:
    return problems.Malformed(error.field, error.wanted, error.got)


def _from_fit(error: FitError) -> Problem:
    return problems.Cannot(str(error))


def _from_data(_error: DataError) -> Problem:
    return problems.Malformed("request", "values that the database can keep", "a value that it cannot")


def _from_stale(_error: StaleDataError) -> Problem:
    return problems.PreconditionFailed("somebody else changed it at the same moment; read again")


def _from_integrity(error: IntegrityError) -> Problem:
    if dialect.is_duplicate(error):
        return problems.Conflict("a record with the same unique name is stored already")
    return problems.Conflict("a record that this one refers to is not there any more")


def _from_operation(error: OperationalError) -> Problem:
    return problems.Busy() if dialect.is_lock_timeout(error) else problems.Internal()


def _from_http(request: Request, error: HTTPException) -> Problem:
    """The framework's own refusals: unknown address, wrong method, unreadable body."""
    if error.status_code == problems.NotFound.status:
        return problems.NotFound("no such address")
    if error.status_code == problems.WrongMethod.status:
        return problems.WrongMethod("no such method here", headers={"Allow": _methods(request)})
    if error.status_code == problems.TooLarge.status:
        return problems.TooLarge("the body is larger than is taken here")
    if error.status_code == 400:
        return problems.Malformed("body", "JSON in UTF-8 of moderate depth", "bytes that are not")
    return problems.Internal()


def _methods(request: Request) -> str:
    """All methods of an address; the framework names only those of the first route that fits."""
    found: set[str] = set()
    for template, operations in request.app.openapi()["paths"].items():
        if compile_path(template)[0].match(request.url.path):
            found |= {method.upper() for method in operations}
    found |= {"HEAD"} if "GET" in found else set()
    return ", ".join(sorted(found))


def _from_validation(error: RequestValidationError) -> Problem:
    said = [entry(found) for found in error.errors()]
    once = [
        one for place, one in enumerate(said) if one not in said[:place]
    ]  # two readers of one body find the same
    return problems.Malformed.of(once)


def entry(found: Mapping[str, Any]) -> dict[str, str]:
    """One of pydantic's errors in our words."""
    kind = str(found["type"])
    field = _field(found["loc"])
    if kind == "json_invalid":
        return {
            "field": "body",
            "wanted": "JSON",
            "got": str(found.get("ctx", {}).get("error", "something else")),
        }
    if kind == "missing":
        return {"field": field, "wanted": "a value", "got": "nothing"}
    if kind == "extra_forbidden":
        return {"field": field, "wanted": "no field of this name", "got": problems.shown(found["input"])}
    cause = (found.get("ctx") or {}).get("error")
    if isinstance(cause, InputError):
        return {"field": field, "wanted": cause.wanted, "got": cause.got}
    return {"field": field, "wanted": wanted_words.of(found), "got": _got(found)}


def _got(found: Mapping[str, Any]) -> str:
    """What came; in quotes where JSON brought text that reads as another of its types: "5" is no number there."""
    came = found.get("input")
    in_json = not _ALL_TEXT.intersection(found["loc"][:1])
    texted = in_json and isinstance(came, str) and _ANOTHER_TYPE.fullmatch(came.strip())
    return problems.shown(repr(came) if texted else came)


def _field(place: Sequence[str | int]) -> str:
    """A dotted name: without where it was sent, except for a whole body."""
    parts = [str(part) for part in place]
    if len(parts) > 1 and parts[0] in _SOURCES:
        parts = parts[1:]
    return problems.shown(".".join(parts), limit=200)


_FORESEEN: dict[type[Exception], Callable[[Any], Problem]] = {
    InputError: _from_input,
    FitError: _from_fit,
    DataError: _from_data,
    StaleDataError: _from_stale,
    IntegrityError: _from_integrity,
    OperationalError: _from_operation,
    ResponseValidationError: lambda _error: problems.Internal(),
}
