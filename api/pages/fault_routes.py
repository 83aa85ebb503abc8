"""HTTP for the pages of fault cases: a car's cases, one case, and its forms."""

from typing import Annotated, Literal

from fastapi import Query, Request
from starlette.responses import HTMLResponse, Response

from api.pages import fault_page
from api.pages.fault_entries import OF_CASE, OPEN
from api.pages.form_pages import empty, sent_in
from api.pages.shell import page, page_router
from api.pages.visitors import MayWrite, OwnForm, SignedIn
from api.storage.session import ReadSession

pages = page_router()

OfCase = Literal["check", "renewal", "take-back", "closing"]
Cursor = Annotated[str | None, Query(max_length=1000)]
Noted = Annotated[str, Query(max_length=20)]


@pages.get("/pages/cars/{vehicle_id}/fault")
def new_case(request: Request, visitor: MayWrite, session: ReadSession, vehicle_id: str) -> HTMLResponse:
    """The form that opens a case."""
    return empty(request, session, visitor, OPEN, vehicle_id)


@pages.post("/pages/cars/{vehicle_id}/fault")
def send_new_case(request: Request, visitor: MayWrite, sent: OwnForm, vehicle_id: str) -> Response:
    """Open a case."""
    return sent_in(request, visitor, OPEN, vehicle_id, sent)


@pages.get("/pages/cars/{vehicle_id}/faults")
def cases(
    request: Request, visitor: SignedIn, session: ReadSession, vehicle_id: str, cursor: Cursor = None
) -> HTMLResponse:
    """A car's cases."""
    return page(request, "faults.html", **fault_page.cases(session, visitor.who, request, vehicle_id, cursor))


@pages.get("/pages/faults/{finding_id}")
def one_case(
    request: Request, visitor: SignedIn, session: ReadSession, finding_id: str, noted: Noted = ""
) -> HTMLResponse:
    """A case: suspects, the next step, what was done."""
    found = fault_page.content(session, visitor.who, finding_id)
    return page(request, "fault.html", noted=noted, **found)


@pages.get("/pages/faults/{finding_id}/{form}")
def case_form(
    request: Request, visitor: MayWrite, session: ReadSession, finding_id: str, form: OfCase
) -> HTMLResponse:
    """A form of a case: a check's result, a renewal, its last step taken back, its end."""
    return empty(request, session, visitor, OF_CASE[form], finding_id)


@pages.post("/pages/faults/{finding_id}/{form}")
def send_case_form(
    request: Request, visitor: MayWrite, sent: OwnForm, finding_id: str, form: OfCase
) -> Response:
    """Store a check's result or a renewal, take the last step back, or close the case."""
    return sent_in(request, visitor, OF_CASE[form], finding_id, sent)
