"""HTTP for the pages: what is looked at, and its pictures. The forms are in `form_routes`."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from api.pages import (
    car_page,
    fault_routes,
    fleet_page,
    form_routes,
    kind_page,
    part_page,
    rendering,
    sign_in_routes,
)
from api.pages.shell import page, page_router
from api.pages.visitors import SignedIn
from api.problems import NotFound
from api.schedules.routes import AsOf
from api.storage.session import ReadSession
from planner.catalogue import load_catalogue
from planner.figures import Picture
from planner.units import DistanceUnit

router = APIRouter()
pages = page_router()

WithinDays = Annotated[int, Query(ge=7, le=728)]
Cursor = Annotated[str | None, Query(max_length=1000)]
Narrow = Annotated[bool, Query()]
Noted = Annotated[str, Query(max_length=20)]
PartNamed = Annotated[str, Query(max_length=40)]


def _driven(
    per_year: Annotated[float | None, Query(gt=0, le=200_000)] = None, unit: DistanceUnit = "km"
) -> kind_page.Driven:
    return kind_page.Driven(per_year, unit)


Driven = Annotated[kind_page.Driven, Depends(_driven)]


@pages.get("/")
def to_pages() -> Response:
    """Who comes without an address gets to the pages."""
    return RedirectResponse("/pages", 303)


@pages.get("/favicon.ico")
def favicon() -> Response:
    """The mark, for browsers that ask for it unasked."""
    return _file("mark.svg")


@pages.get("/pages/static/{name}")
def static(name: str) -> Response:
    """A file that goes with the pages; its address changes with its content."""
    if name not in rendering.STATIC:
        raise NotFound("no such file")
    return _file(name)


@pages.get("/pages")
def fleet(
    request: Request,
    visitor: SignedIn,
    session: ReadSession,
    as_of: AsOf = None,
    within_days: WithinDays = 182,
    cursor: Cursor = None,
) -> HTMLResponse:
    """What is due in the fleet, by week and month."""
    day = as_of or visitor.who.today()
    found = fleet_page.due(session, visitor.who, request, day, within_days, cursor)
    return page(request, "fleet.html", **found)


@pages.get("/pages/weeks.svg")
def weeks(
    visitor: SignedIn,
    session: ReadSession,
    as_of: AsOf = None,
    within_days: WithinDays = 182,
    narrow: Narrow = False,
) -> Response:
    """The weeks ahead, drawn."""
    day = as_of or visitor.who.today()
    return _drawn(fleet_page.weeks(session, visitor.who, day, within_days), narrow=narrow)


@pages.get("/pages/cars")
def cars(request: Request, visitor: SignedIn, session: ReadSession, cursor: Cursor = None) -> HTMLResponse:
    """The fleet's cars."""
    return page(request, "cars.html", **fleet_page.cars(session, visitor.who, request, cursor))


@pages.get("/pages/kinds")
def kinds(request: Request, visitor: SignedIn) -> HTMLResponse:  # noqa: ARG001 - signed in is needed, not by whom
    """Every part kind, by family."""
    return page(request, "kinds.html", families=kind_page.by_family(load_catalogue().values()))


@pages.get("/pages/kinds/{kind}")
def kind(
    request: Request, visitor: SignedIn, session: ReadSession, kind: str, driven: Driven
) -> HTMLResponse:
    """How long parts of a kind last, what each interval costs, what that rests on."""
    return page(request, "kind.html", **kind_page.content(session, visitor.who, kind, driven))


@pages.get("/pages/kinds/{kind}/life.svg")
def kind_life(
    visitor: SignedIn, session: ReadSession, kind: str, driven: Driven, narrow: Narrow = False
) -> Response:
    """The life curve, drawn."""
    return _drawn(kind_page.life_picture(session, visitor.who, kind, driven), narrow=narrow)


@pages.get("/pages/kinds/{kind}/cost.svg")
def kind_cost(
    visitor: SignedIn, session: ReadSession, kind: str, driven: Driven, narrow: Narrow = False
) -> Response:
    """The interval cost curve, drawn."""
    return _drawn(kind_page.cost_picture(session, visitor.who, kind, driven), narrow=narrow)


@pages.get("/pages/cars/{vehicle_id}")
def car(
    request: Request,
    visitor: SignedIn,
    session: ReadSession,
    vehicle_id: str,
    as_of: AsOf = None,
    noted: Noted = "",
) -> HTMLResponse:
    """A car: its work, its parts' clocks, its history."""
    found = car_page.content(session, visitor.who, vehicle_id, as_of or visitor.who.today())
    return page(request, "car.html", noted=noted, **found)


@pages.get("/pages/cars/{vehicle_id}/timeline.svg")
def timeline(
    visitor: SignedIn, session: ReadSession, vehicle_id: str, as_of: AsOf = None, narrow: Narrow = False
) -> Response:
    """A car's parts on a timeline, drawn."""
    day = as_of or visitor.who.today()
    items = car_page.schedule(session, visitor.who, vehicle_id, day)
    return _drawn(car_page.picture(items, day), narrow=narrow)


@pages.get("/pages/parts/{fitment_id}")
def part(
    request: Request,
    visitor: SignedIn,
    session: ReadSession,
    fitment_id: str,
    as_of: AsOf = None,
    noted: Noted = "",
) -> HTMLResponse:
    """One part: its clocks against its life curve, why it is due, what happened to it."""
    found = part_page.content(session, visitor.who, fitment_id, as_of or visitor.who.today())
    return page(request, "part.html", noted=noted, **found)


@pages.get("/pages/parts/{fitment_id}/life.svg")
def part_life(
    visitor: SignedIn, session: ReadSession, fitment_id: str, as_of: AsOf = None, narrow: Narrow = False
) -> Response:
    """A part on its kind's life curve, drawn."""
    found = part_page.picture(session, visitor.who, fitment_id, as_of or visitor.who.today())
    if found is None:
        raise NotFound("there is nothing to draw for this part")
    return _drawn(found, narrow=narrow)


def _file(name: str) -> Response:
    kept = {"Cache-Control": "public, max-age=31536000, immutable"}
    return Response(rendering.static_file(name), media_type=rendering.STATIC[name], headers=kept)


def _drawn(picture: Picture, *, narrow: bool) -> Response:
    return Response(picture.svg(narrow=narrow), media_type="image/svg+xml")


for part_of_the_pages in (pages, sign_in_routes.pages, fault_routes.pages, form_routes.pages):
    router.include_router(part_of_the_pages)
