"""The digest's pages: the list, one week, and its picture of the weeks ahead."""

from typing import Annotated

from fastapi import Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from api.conventions import page_of
from api.digests import service, store
from api.digests.routes import Week
from api.digests.schemas import DigestWeeks
from api.mail import service as mail
from api.mail.post import hindrance
from api.pages import navigation
from api.pages.links import asked_for, next_page
from api.pages.shell import page, page_router
from api.pages.visitors import MayWrite, OwnForm, SignedIn
from api.storage.session import ReadSession, WriteSession
from planner.figures import Picture, weeks_ahead

pages = page_router()

ON_A_PAGE = 26

Cursor = Annotated[str | None, Query(max_length=1000)]
Narrow = Annotated[bool, Query()]
Asked = Annotated[str, Query(max_length=20)]

navigation.add("Digest", "/pages/digests")


@pages.get("/pages/digests")
def digests(
    request: Request, visitor: SignedIn, session: ReadSession, cursor: Cursor = None, asked: Asked = ""
) -> HTMLResponse:
    """The fleet's digests, latest week first."""
    wanted = asked_for(request, cursor, ON_A_PAGE)
    rows = page_of(session, store.digests_of(visitor.who.fleet_id), wanted)
    found = [service.listed(row) for row in rows]
    settings = request.app.state.settings
    addresses = mail.listed(session, visitor.who, settings)
    return page(
        request,
        "digests.html",
        digests=found,
        next_page=next_page(wanted),
        asked=bool(asked),
        again="again" in request.query_params,
        addresses=addresses,
        hindrance=hindrance(settings),
    )


@pages.post("/pages/digests")
def make_digest(visitor: MayWrite, session: WriteSession, sent: OwnForm) -> Response:  # noqa: ARG001 - the form's token is checked
    """Have this week's digest made."""
    service.ask(session, visitor.who)
    return RedirectResponse("/pages/digests?asked=yes", 303)


@pages.get("/pages/digests/{week}")
def digest(request: Request, visitor: SignedIn, session: ReadSession, week: Week) -> HTMLResponse:
    """One week's digest."""
    found = service.shown(service.found(session, visitor.who.fleet_id, week))
    return page(request, "digest.html", digest=found, picture=_picture(found.weeks))


@pages.get("/pages/digests/{week}/weeks.svg")
def weeks(visitor: SignedIn, session: ReadSession, week: Week, narrow: Narrow = False) -> Response:
    """A digest's weeks ahead, drawn."""
    found = service.shown(service.found(session, visitor.who.fleet_id, week))
    return Response(_picture(found.weeks).svg(narrow=narrow), media_type="image/svg+xml")


def _picture(ahead: DigestWeeks) -> Picture:
    return weeks_ahead(ahead.counts, first=ahead.first, due_before=ahead.due_before)
