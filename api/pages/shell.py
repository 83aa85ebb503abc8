"""Around every page: its headers, its frame, and refusals shown as pages instead of problem documents."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl, urlencode

import structlog
from fastapi import APIRouter, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, RedirectResponse, Response

from api import problems
from api.pages import navigation, rendering, sessions
from api.pages.visitors import SignInNeeded, StaleForm, sent_form
from api.web import refusals

if TYPE_CHECKING:
    from collections.abc import Callable, Coroutine, Mapping

log = structlog.get_logger(__name__)

POLICY = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
"""On every page and picture. `frame-ancestors` is the policy's form of what X-Frame-Options said."""

SIGN_IN = "/pages/sign-in"
_OVER = "Your session is over. Nothing has been stored yet: what you wrote is kept and comes back after you sign in."
_NOT_KEPT = {"form_token", "once", "key"}


class PageRoute(APIRoute):
    """A route whose refusals are pages."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The framework's handler, with headers put on and refusals shown."""
        work = super().get_route_handler()

        async def handle(request: Request) -> Response:
            try:
                response = await work(request)
            except SignInNeeded:
                response = await _to_sign_in(request)
            except StaleForm:
                response = await _form_again(request)
            except Exception as error:  # noqa: BLE001 - shown as a page; unforeseen ones are logged
                response = await run_in_threadpool(refusal, request, error)
            for name, value in HEADERS.items():
                response.headers.setdefault(name, value)
            return response

        return handle


def page_router() -> APIRouter:
    """A router for pages: not part of the JSON service's document."""
    return APIRouter(route_class=PageRoute, include_in_schema=False, default_response_class=HTMLResponse)


def page(request: Request, template: str, *, status: int = 200, **content: Any) -> HTMLResponse:
    """A page in its frame.

    Args:
        request: what is answered.
        template: file name in ``templates``.
        status: HTTP status.
        content: what the template shows.
    """
    visitor = getattr(request.state, "visitor", None)
    visit = None if visitor is None else visitor.visit
    frame = {
        "visitor": visitor,
        "menu": navigation.entries(),
        "here": request.url.path,
        "form_token": "" if visit is None else sessions.form_token(request, visit),
    }
    return HTMLResponse(rendering.render(template, {**frame, **content}), status)


def sign_in_page(
    request: Request, *, back: str, kept: str = "", problem: str = "", status: int = 200
) -> HTMLResponse:
    """The sign-in page, which afterwards leads back.

    Args:
        request: what is answered.
        back: path to lead to.
        kept: fields of a form that came without a session, as a query string.
        problem: what was wrong.
        status: HTTP status.
    """
    visit = sessions.visit_of(request) or sessions.Visit.begin()
    token = sessions.form_token(request, visit)
    shown = page(
        request, "sign_in.html", status=status, back=back, kept=kept, problem=problem, form_token=token
    )
    sessions.remember(request, shown, visit)
    return shown


def refusal(request: Request, error: Exception) -> HTMLResponse:
    """A refusal as a page; an unforeseen error says nothing of what is inside."""
    problem = problem_of(error)
    if problem["status"] == problems.Internal.status:
        log.error("unforeseen error", path=request.url.path, exc_info=error)
    return page(request, "problem.html", status=problem["status"], problem=problem)


def problem_of(error: Exception) -> dict[str, Any]:
    """The problem document of whatever was raised: the same words as the JSON service has."""
    if isinstance(error, HTTPException) and error.status_code == problems.TooLarge.status:
        error = problems.TooLarge("the form is larger than is taken here")
    elif isinstance(error, HTTPException) and error.status_code == 400:
        error = problems.Malformed(
            "form", "as many fields as the form has", "more, or bytes that are no form"
        )
    found = refusals.foreseen(error) or problems.Internal()
    return found.marshal(uri=problems.TYPE_TEMPLATE)


def local(path: str) -> str:
    """The path if it leads to a page of ours, else the first page: nobody is sent elsewhere."""
    fine = (
        (path == "/pages" or path.startswith(("/pages/", "/pages?")))
        and path.isprintable()
        and "\\" not in path
    )
    return path if fine else "/pages"


def with_fields(path: str, fields: Mapping[str, str]) -> str:
    """A form's address with fields to be filled in."""
    asked = {name: value for name, value in fields.items() if value and name not in _NOT_KEPT}
    return f"{path}?{urlencode(asked)}" if asked else path


async def _to_sign_in(request: Request) -> Response:
    """To the sign-in page; a form that came without a session is kept for afterwards."""
    if request.method != "POST":
        asked = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        return RedirectResponse(f"{SIGN_IN}?{urlencode({'back': asked})}", 303)
    fields = await sent_form(request)
    kept = with_fields("", fields).removeprefix("?")
    return await run_in_threadpool(_keep_and_ask, request, kept)


def _keep_and_ask(request: Request, kept: str) -> HTMLResponse:
    shown = sign_in_page(request, back=request.url.path, kept=kept, problem=_OVER, status=401)
    shown.headers["WWW-Authenticate"] = "Bearer"
    return shown


async def _form_again(request: Request) -> Response:
    fields = dict(await sent_form(request))
    return RedirectResponse(with_fields(request.url.path, {**fields, "again": "stale"}), 303)


def kept_fields(kept: str) -> dict[str, str]:
    """Fields of a form that was kept during sign-in."""
    return dict(parse_qsl(kept[:100_000], max_num_fields=100)) if kept else {}
