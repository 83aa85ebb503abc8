"""One attempt at one job: begin, do the work, write its end; a failure becomes a problem document."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import stamina
import structlog
from sqlalchemy.exc import OperationalError

from api import metrics
from api.jobs import store
from api.jobs.registry import Cancelled, Sessions, Superseded, work_for
from api.storage.session import writing
from api.web import refusals

if TYPE_CHECKING:
    from collections.abc import Callable

    from api.storage.engine import Database
    from api.storage.tables import Job

log = structlog.get_logger(__name__)

_PROGRESS_EVERY_SECONDS = 0.5


def run_job(database: Database, job_id: str, worker_id: str, stopping: Callable[[], bool]) -> None:
    """Make one attempt; a failure of the work is written down, not raised.

    Args:
        database: where the job is.
        job_id: which job.
        worker_id: the process that makes the attempt.
        stopping: whether that process is about to stop.

    Raises:
        Superseded: the attempt was given up; the job stays as it is for another one.
        sqlalchemy.exc.OperationalError: the database could not be written, several times.
    """
    with writing(database) as session:
        job = store.begin(session, job_id, worker_id)
    if job is None:
        return
    log.info("job begins", job=job.id, kind=job.kind, attempt=job.attempt)
    values = _outcome(database, job, stopping)
    written = _write_end(database, job, values)
    metrics.job_ended(job.kind, values["state"])
    log.info("job ends", job=job.id, kind=job.kind, state=values["state"], written=written)


@stamina.retry(on=OperationalError, attempts=5)
def _write_end(database: Database, job: Job, values: dict[str, Any]) -> bool:
    with writing(database) as session:
        return store.end(session, job, **values)


def _outcome(database: Database, job: Job, stopping: Callable[[], bool]) -> dict[str, Any]:
    """Do the work; what to write at its end."""
    report = _Reporter(database, job, stopping)
    try:
        result = work_for(job.kind)(Sessions(database), job, job.payload, report)
    except Superseded:
        log.warning("attempt given up", job=job.id, kind=job.kind, attempt=job.attempt)
        raise
    except Cancelled:
        return {"state": "cancelled"}
    except Exception as error:
        problem = refusals.document(error, found_by=f"job {job.id}")
        if problem["status"] >= 500:
            log.exception("job failed", job=job.id, kind=job.kind)
        return {"state": "failed", "problem": problem}
    return {"state": "succeeded", "result": result or {}}


@dataclass
class _Reporter:
    """Writes progress now and then, and passes on orders to stop."""

    database: Database
    job: Job
    stopping: Callable[[], bool]
    _next: float = field(default=0.0)

    def __call__(self, done: int, total: int, what: str) -> None:
        """Note how far the work is."""
        if self.stopping():
            raise Superseded
        now = time.monotonic()
        if now < self._next and done < total:
            return
        self._next = now + _PROGRESS_EVERY_SECONDS
        with writing(self.database) as session:
            row = store.note_progress(session, self.job, done, total, what)
        if row is None:
            raise Superseded
        if row.cancel_asked_at is not None:
            raise Cancelled
