"""HTTP for calendars: secret addresses are managed with a key, a calendar is read by its address alone."""

import hashlib
from typing import Annotated

from fastapi import APIRouter, Header, Path, Request, Response, status

from api.calendar import feed, service, store
from api.calendar.entries import entries
from api.calendar.schemas import CalendarCreate, CalendarMade, CalendarOut
from api.conventions import IfNoneMatch, NotModified, RecordsAsked, page_of, send_tag, unless_held
from api.problems import Malformed
from api.schemas import Page
from api.security import Principal, Reader, Writer
from api.storage.session import ReadSession, WriteSession

router = APIRouter(tags=["calendar"])

NoRepetition = Annotated[str | None, Header(alias="Idempotency-Key", include_in_schema=False)]
Secret = Annotated[str, Path(min_length=1, max_length=100, description="the secret part of the address")]


@router.post("/v1/calendar", status_code=status.HTTP_201_CREATED)
def create_calendar(
    body: CalendarCreate,
    who: Writer,
    session: WriteSession,
    request: Request,
    response: Response,
    idempotency_key: NoRepetition = None,
) -> CalendarMade:
    """Make a secret address for the fleet's or one car's calendar; the answer is the only time that it is shown."""
    _not_kept(idempotency_key)
    row, secret = service.make(session, who.fleet_id, body)
    response.headers["Location"] = f"/v1/calendar/{row.id}"
    send_tag(response, row)
    return _made(request, row, secret)


@router.get("/v1/calendar")
def list_calendars(who: Reader, session: ReadSession, asked: RecordsAsked) -> Page[CalendarOut]:
    """The fleet's calendar addresses, without their secrets, oldest first."""
    rows = page_of(session, store.addresses_of(who.fleet_id), asked)
    return Page(items=[CalendarOut.model_validate(row) for row in rows])


@router.get("/v1/calendar/{calendar_id}")
def read_calendar(
    calendar_id: str, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> CalendarOut:
    """One calendar address, without its secret."""
    row = service.found(session, who.fleet_id, calendar_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return CalendarOut.model_validate(row)


@router.post("/v1/calendar/{calendar_id}/rotation")
def rotate_calendar(
    calendar_id: str,
    who: Writer,
    session: WriteSession,
    request: Request,
    response: Response,
    idempotency_key: NoRepetition = None,
) -> CalendarMade:
    """Replace the secret address by a new one, shown this once; the old one opens nothing from now on."""
    _not_kept(idempotency_key)
    row = service.found(session, who.fleet_id, calendar_id)
    secret = service.rotate(session, row)
    send_tag(response, row)
    return _made(request, row, secret)


@router.delete("/v1/calendar/{calendar_id}", status_code=status.HTTP_204_NO_CONTENT)
def delete_calendar(calendar_id: str, who: Writer, session: WriteSession) -> None:
    """Take a calendar address away: it opens nothing from now on."""
    session.delete(service.found(session, who.fleet_id, calendar_id))


@router.get(
    "/calendar/{secret}.ics",
    response_class=Response,
    responses={
        200: {
            "description": "RFC 5545: due work as all-day events",
            "content": {"text/calendar": {"schema": {"type": "string"}}},
        }
    },
)
def read_calendar_feed(
    secret: Secret, request: Request, session: ReadSession, if_none_match: IfNoneMatch = None
) -> Response:
    """The calendar at a secret address: each part on its likely day, with window and reason; no key is needed.

    A part that came off or was declined stays as a cancelled event for some weeks.
    """
    row, fleet = service.opened(session, secret)
    request.app.state.rates.count(row.id)
    who = Principal(fleet.id, row.id, "read", fleet.time_zone, fleet.currency)
    name = row.label or f"Due work, {fleet.name}"
    content = feed.written(name, entries(session, who, row.vehicle_id, who.today()))
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    if if_none_match is not None and tag in if_none_match.replace("W/", "").split(", "):
        raise NotModified(tag)
    headers = {"ETag": tag, "Cache-Control": "private, max-age=3600", "X-Robots-Tag": "noindex"}
    return Response(content, media_type=feed.MEDIA_TYPE, headers=headers)


def _not_kept(idempotency_key: str | None) -> None:
    if idempotency_key is not None:
        raise Malformed(
            "Idempotency-Key",
            "no such header here: an address is shown once and never again",
            idempotency_key,
        )


def _made(request: Request, row: object, secret: str) -> CalendarMade:
    shown = CalendarOut.model_validate(row).model_dump()
    address = str(request.base_url).rstrip("/") + service.path_of(secret)
    return CalendarMade.model_validate({**shown, "address": address})
