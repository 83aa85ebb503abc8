"""Queries for jobs and workers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import CursorResult, delete, or_, update
from sqlmodel import col, select

from api.storage.tables import Job, Worker
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection
    from datetime import datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar

LIVE_STATES = ("queued", "running")
"""States of a job that has not ended."""


def jobs_of(fleet_id: str) -> SelectOfScalar[Job]:
    """All jobs of one fleet, latest first, for paging."""
    return (
        select(Job).where(Job.fleet_id == fleet_id).order_by(col(Job.created_at).desc(), col(Job.id).desc())
    )


def job(session: Session, fleet_id: str, job_id: str) -> Job | None:
    """One job of one fleet."""
    return session.exec(select(Job).where(Job.fleet_id == fleet_id, Job.id == job_id)).one_or_none()


def begin(session: Session, job_id: str, worker_id: str) -> Job | None:
    """Mark a job as running here, as its latest attempt; None when there is nothing to do any more."""
    row = session.get(Job, job_id, with_for_update=True)
    if row is None or row.state not in LIVE_STATES:
        return None
    row.state = "running"
    row.worker_id = worker_id
    row.attempt += 1
    row.started_at = row.started_at or utc_now()
    session.flush()
    return row


def note_progress(session: Session, job: Job, done: int, total: int, doing: str) -> Job | None:
    """Write how far an attempt is; gives the row as it is now, or None when the attempt is not the latest."""
    values = {"done": done, "total": total, "doing": doing}
    if not _update_attempt(session, job, values):
        return None
    return session.get(Job, job.id, populate_existing=True)


def end(session: Session, job: Job, **values: Any) -> bool:
    """Write an attempt's end; False when the attempt is not the latest, and nothing is written."""
    return _update_attempt(session, job, {"finished_at": utc_now(), **values})


def _update_attempt(session: Session, job: Job, values: dict[str, Any]) -> bool:
    statement = (
        update(Job)
        .where(col(Job.id) == job.id, col(Job.attempt) == job.attempt, col(Job.state) == "running")
        .values(version=Job.version + 1, **values)
        .execution_options(synchronize_session=False)
    )
    return cast("CursorResult[Any]", session.execute(statement)).rowcount == 1


def take_over(session: Session, job_id: str, worker_id: str, live: Collection[str]) -> bool:
    """Claim a running job whose worker is not alive; of several claimants one gets True."""
    statement = (
        update(Job)
        .where(col(Job.id) == job_id)
        .where(or_(col(Job.worker_id).is_(None), col(Job.worker_id).not_in(live)))
        .values(worker_id=worker_id)
        .execution_options(synchronize_session=False)
    )
    return cast("CursorResult[Any]", session.execute(statement)).rowcount == 1


def orphans(session: Session, live: Collection[str]) -> list[Job]:
    """Jobs that are marked as running on workers that are not alive."""
    return list(session.exec(select(Job).where(col(Job.state) == "running", col(Job.worker_id).not_in(live))))


def beat(session: Session, worker_id: str, application_version: str) -> None:
    """Say that this worker is alive."""
    row = session.get(Worker, worker_id) or Worker(id=worker_id, application_version=application_version)
    row.last_seen_at = utc_now()
    session.add(row)


def live_workers(session: Session, since: datetime) -> set[str]:
    """Workers heard of since a moment."""
    return set(session.exec(select(Worker.id).where(Worker.last_seen_at >= since)))


def forget_workers(session: Session, *, before: datetime) -> None:
    """Drop workers not heard of since long before."""
    session.execute(delete(Worker).where(col(Worker.last_seen_at) < before))


def leave(session: Session, worker_id: str) -> None:
    """Drop this worker's own row: it stops in good order."""
    session.execute(delete(Worker).where(col(Worker.id) == worker_id))
