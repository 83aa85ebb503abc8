"""Rules for background work as its fleet sees it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.jobs import store
from api.jobs.schemas import JobOut, JobProgress
from api.problems import Conflict, NotFound
from api.storage.types import utc_now

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables import Job


def found(session: Session, fleet_id: str, job_id: str) -> Job:
    """One job of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    job = store.job(session, fleet_id, job_id)
    if job is None:
        raise NotFound(f"no job {job_id}")
    return job


def cancel(session: Session, fleet_id: str, job_id: str) -> Job:
    """Ask a job to stop.

    Raises:
        NotFound: there is none of that id in this fleet.
        Conflict: it has ended.
    """
    job = found(session, fleet_id, job_id)
    if job.state not in store.LIVE_STATES:
        raise Conflict(f"the job has ended: {job.state}", field="state")
    job.cancel_asked_at = job.cancel_asked_at or utc_now()
    if job.state == "queued":
        job.state, job.finished_at = "cancelled", utc_now()
    session.flush()
    return job


def shown(job: Job) -> JobOut:
    """A job as an answer shows it."""
    return JobOut(
        id=job.id,
        kind=job.kind,
        state=job.state,
        progress=JobProgress(done=job.done, total=job.total, doing=job.doing),
        result=job.result,
        problem=job.problem,
        created_at=job.created_at,
        started_at=job.started_at,
        finished_at=job.finished_at,
    )
