"""HTTP for digests."""

from typing import Annotated

from fastapi import APIRouter, Path, Response, status

from api.conventions import IfNoneMatch, PageAsked, page_of, send_tag, unless_held
from api.digests import service, store
from api.digests.schemas import DigestListed, DigestOut
from api.jobs import service as job_service
from api.jobs.schemas import JobOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/digests", tags=["digests"], route_class=OnceRoute)

Week = Annotated[str, Path(pattern=r"^[0-9]{4}-W[0-9]{2}$", description="ISO 8601 week, 2026-W48")]


@router.post("", status_code=status.HTTP_202_ACCEPTED)
def create_digest(who: Writer, session: WriteSession, response: Response) -> JobOut:
    """Have this week's digest made, by the calendar where the fleet is; a week that has one keeps it as it is."""
    job = service.ask(session, who)
    response.headers["Location"] = f"/v1/jobs/{job.id}"
    return job_service.shown(job)


@router.get("")
def list_digests(who: Reader, session: ReadSession, asked: PageAsked) -> Page[DigestListed]:
    """The fleet's digests, latest week first."""
    return Page(
        items=[service.listed(row) for row in page_of(session, store.digests_of(who.fleet_id), asked)]
    )


@router.get("/{week}")
def read_digest(
    week: Week, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> DigestOut:
    """One week's digest, as it was made."""
    row = service.found(session, who.fleet_id, week)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return service.shown(row)
