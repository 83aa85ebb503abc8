"""HTTP for the pages' forms: shown empty or with fields filled in, sent, and shown again with what was wrong."""

from collections.abc import Mapping
from typing import Literal

from fastapi import Request
from sqlmodel import Session
from starlette.responses import HTMLResponse, RedirectResponse, Response

from api.pages import form_content
from api.pages.entries import CAR, OF_CAR, OF_PART, Entry
from api.pages.forms import Filled, refused
from api.pages.shell import page, page_router, problem_of
from api.pages.storing import store
from api.pages.visitors import MayWrite, OwnForm, Visitor
from api.problems import NotFound
from api.storage.session import ReadSession, database_of, reading

pages = page_router()

OfCar = Literal["reading", "fitment"]
OfPart = Literal["inspection", "repair", "removal"]


@pages.get("/pages/new-car")
def new_car(request: Request, visitor: MayWrite, session: ReadSession) -> HTMLResponse:
    """The form that registers a car."""
    return _empty(request, session, visitor, CAR, "")


@pages.post("/pages/new-car")
def send_new_car(request: Request, visitor: MayWrite, sent: OwnForm) -> Response:
    """Register a car."""
    return _sent(request, visitor, CAR, "", sent)


@pages.get("/pages/cars/{vehicle_id}/{form}")
def car_form(
    request: Request, visitor: MayWrite, session: ReadSession, vehicle_id: str, form: OfCar
) -> HTMLResponse:
    """A form about a car: an odometer reading or a fitment."""
    return _empty(request, session, visitor, OF_CAR[form], vehicle_id)


@pages.post("/pages/cars/{vehicle_id}/{form}")
def send_car_form(
    request: Request, visitor: MayWrite, sent: OwnForm, vehicle_id: str, form: OfCar
) -> Response:
    """Store a reading or a fitment."""
    return _sent(request, visitor, OF_CAR[form], vehicle_id, sent)


@pages.get("/pages/parts/{fitment_id}/{form}")
def part_form(
    request: Request, visitor: MayWrite, session: ReadSession, fitment_id: str, form: OfPart
) -> HTMLResponse:
    """A form about a part: an inspection, a repair or its removal."""
    return _empty(request, session, visitor, OF_PART[form], fitment_id)


@pages.post("/pages/parts/{fitment_id}/{form}")
def send_part_form(
    request: Request, visitor: MayWrite, sent: OwnForm, fitment_id: str, form: OfPart
) -> Response:
    """Store an inspection, a repair or a removal."""
    return _sent(request, visitor, OF_PART[form], fitment_id, sent)


@pages.get("/pages/{rest:path}")
def nothing_here(rest: str) -> Response:
    """Any other address under the pages."""
    raise NotFound(f"no page {rest[:80]!r}")


def _empty(request: Request, session: Session, visitor: Visitor, entry: Entry, place: str) -> HTMLResponse:
    """The form before anything is wrong, with the fields of the address filled in."""
    around = form_content.around(session, visitor.who, entry.form.name, place)
    asked = entry.form.fields(request.query_params)
    again = "again" in request.query_params
    filled = Filled({**around.defaults, **asked}, general=(form_content.AGAIN,) if again else ())
    return page(request, f"form_{entry.form.name}.html", form=filled, **around.shown)


def _sent(request: Request, visitor: Visitor, entry: Entry, place: str, sent: Mapping[str, str]) -> Response:
    """Store what was sent; or the form again, with what was written kept and what was wrong beside it."""
    try:
        return RedirectResponse(store(request, visitor.who, place, entry, sent), 303)
    except Exception as error:
        problem = problem_of(error)
        if problem["status"] not in form_content.MENDABLE:
            raise
    with reading(database_of(request)) as session:
        around = form_content.around(session, visitor.who, entry.form.name, place)
    filled = refused(entry.form, sent, problem)
    template = f"form_{entry.form.name}.html"
    return page(request, template, status=problem["status"], form=filled, **around.shown)
