"""HTTP for the pages' forms: shown empty or with fields filled in, sent, and shown again with what was wrong."""

from typing import Literal

from fastapi import Request
from starlette.responses import HTMLResponse, Response

from api.pages.entries import CAR, OF_CAR, OF_PART
from api.pages.form_pages import empty, sent_in
from api.pages.shell import page_router
from api.pages.visitors import MayWrite, OwnForm
from api.problems import NotFound
from api.storage.session import ReadSession

pages = page_router()

OfCar = Literal["reading", "fitment"]
OfPart = Literal["inspection", "repair", "removal"]


@pages.get("/pages/new-car")
def new_car(request: Request, visitor: MayWrite, session: ReadSession) -> HTMLResponse:
    """The form that registers a car."""
    return empty(request, session, visitor, CAR, "")


@pages.post("/pages/new-car")
def send_new_car(request: Request, visitor: MayWrite, sent: OwnForm) -> Response:
    """Register a car."""
    return sent_in(request, visitor, CAR, "", sent)


@pages.get("/pages/cars/{vehicle_id}/{form}")
def car_form(
    request: Request, visitor: MayWrite, session: ReadSession, vehicle_id: str, form: OfCar
) -> HTMLResponse:
    """A form about a car: an odometer reading or a fitment."""
    return empty(request, session, visitor, OF_CAR[form], vehicle_id)


@pages.post("/pages/cars/{vehicle_id}/{form}")
def send_car_form(
    request: Request, visitor: MayWrite, sent: OwnForm, vehicle_id: str, form: OfCar
) -> Response:
    """Store a reading or a fitment."""
    return sent_in(request, visitor, OF_CAR[form], vehicle_id, sent)


@pages.get("/pages/parts/{fitment_id}/{form}")
def part_form(
    request: Request, visitor: MayWrite, session: ReadSession, fitment_id: str, form: OfPart
) -> HTMLResponse:
    """A form about a part: an inspection, a repair or its removal."""
    return empty(request, session, visitor, OF_PART[form], fitment_id)


@pages.post("/pages/parts/{fitment_id}/{form}")
def send_part_form(
    request: Request, visitor: MayWrite, sent: OwnForm, fitment_id: str, form: OfPart
) -> Response:
    """Store an inspection, a repair or a removal."""
    return sent_in(request, visitor, OF_PART[form], fitment_id, sent)


@pages.get("/pages/{rest:path}")
def nothing_here(rest: str) -> Response:
    """Any other address under the pages."""
    raise NotFound(f"no page {rest[:80]!r}")
