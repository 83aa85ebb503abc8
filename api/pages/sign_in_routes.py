"""HTTP for signing in and out."""

from typing import Annotated

from fastapi import Query, Request
from starlette.responses import RedirectResponse, Response

from api.pages import sessions, visitors
from api.pages.shell import kept_fields, local, page_router, sign_in_page, with_fields
from api.pages.visitors import Sent, sign_in

pages = page_router()


@pages.get("/pages/sign-in")
def show_sign_in(request: Request, back: Annotated[str, Query(max_length=60_000)] = "/pages") -> Response:
    """Ask for a key."""
    return sign_in_page(request, back=local(back))


@pages.post("/pages/sign-in")
def send_sign_in(request: Request, sent: Sent) -> Response:
    """Begin a session with a key, and lead back to where somebody was."""
    back, kept = local(sent.get("back", "")), sent.get("kept", "")
    if not sessions.is_own_form(request, sessions.visit_of(request), sent.get("form_token", "")):
        problem = "This page had been open too long, or the browser takes no cookies. Send it once more."
        return sign_in_page(request, back=back, kept=kept, problem=problem, status=422)
    visit = sign_in(request, sent.get("key", ""))
    if visit is None:
        problem = "That key opens nothing: it is mistyped, revoked or past its end."
        return sign_in_page(request, back=back, kept=kept, problem=problem, status=422)
    fields = kept_fields(kept)
    response = RedirectResponse(with_fields(back, {**fields, "again": "signed in"}) if fields else back, 303)
    sessions.remember(request, response, visit)
    return response


@pages.post("/pages/sign-out")
def sign_out(request: Request, sent: Sent) -> Response:
    """End the session, here and for any copy of its cookie; a form of another site ends nothing."""
    response = RedirectResponse("/pages/sign-in", 303)
    if sessions.is_own_form(request, sessions.visit_of(request), sent.get("form_token", "")):
        visitors.sign_out(request)
        sessions.forget(request, response)
    return response
