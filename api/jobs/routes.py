"""HTTP for background work."""

from fastapi import APIRouter, Response, status

from api.conventions import IfNoneMatch, PageAsked, page_of, send_tag, unless_held
from api.jobs import service, store
from api.jobs.schemas import JobOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/jobs", tags=["jobs"], route_class=OnceRoute)


@router.get("", operation_id="list_jobs")
def list_jobs(who: Reader, session: ReadSession, asked: PageAsked) -> Page[JobOut]:
    """The fleet's background work, latest first."""
    return Page(items=[service.shown(job) for job in page_of(session, store.jobs_of(who.fleet_id), asked)])


@router.get("/{job_id}", operation_id="read_job")
def read_job(
    job_id: str, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> JobOut:
    """One piece of background work: its state, how far it is, what it gave or why it failed."""
    job = service.found(session, who.fleet_id, job_id)
    unless_held(if_none_match, job)
    send_tag(response, job)
    return service.shown(job)


@router.post("/{job_id}/cancellation", status_code=status.HTTP_202_ACCEPTED, operation_id="cancel_job")
def cancel_job(job_id: str, who: Writer, session: WriteSession) -> JobOut:
    """Ask a job to stop: one that waits stops at once, one that runs at its next step."""
    return service.shown(service.cancel(session, who.fleet_id, job_id))
