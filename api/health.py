"""Whether the process is alive, and whether it can serve: its database, its queue, and how old its models are."""

from datetime import timedelta
from typing import Literal

from fastapi import APIRouter, Request

from api.jobs.worker import SILENT_AFTER
from api.problems import Busy
from api.schemas import Answer
from api.storage import schema, standing
from api.storage.session import database_of, reading
from api.storage.types import utc_now

router = APIRouter(tags=["health"])

LONGEST_WAIT = timedelta(minutes=15)
"""How long a job may wait in the queue before the service counts as not ready: nobody takes jobs, or far too few do."""


class Health(Answer):
    """Nothing is wrong."""

    status: Literal["ok"] = "ok"


class Queue(Answer):
    """Background work.

    Attributes:
        workers: processes that take jobs.
        waiting: jobs that nobody has taken yet.
        longest_wait_seconds: of the job that waits longest; null: none waits.
    """

    workers: int
    waiting: int
    longest_wait_seconds: int | None


class Models(Answer):
    """Lives in force that were fitted to records.

    Attributes:
        fitted: how many.
        oldest_days, newest_days: how long ago they were fitted; null: there is none.
    """

    fitted: int
    oldest_days: int | None
    newest_days: int | None


class Ready(Health):
    """It can serve."""

    database: Literal["ok"] = "ok"
    queue: Queue
    models: Models


@router.get("/healthz", operation_id="healthz")
def healthz() -> Health:
    """The process is alive."""
    return Health()


@router.get("/readyz", operation_id="readyz", responses={503: {"description": "not ready to serve"}})
def readyz(request: Request) -> Ready:
    """The database answers, its schema is the right one, background work is taken up; how old models are."""
    database = database_of(request)
    state = schema.standing(database)
    if state != "current":
        raise Busy(f"the database is {state}")
    worker = request.app.state.worker
    if worker is not None and not worker.alive:
        raise Busy("background work has stopped")
    now = utc_now()
    with reading(database) as session:
        queue = standing.queue(session, heard_since=now - SILENT_AFTER)
        models = standing.fitted_models(session)
    waits = None if queue.oldest is None else now - queue.oldest
    if waits is not None and waits > LONGEST_WAIT:
        raise Busy(
            f"a job has waited for {waits.total_seconds() / 60:.0f} minutes; {queue.workers} workers are alive"
        )
    return Ready(
        queue=Queue(
            workers=queue.workers,
            waiting=queue.waiting,
            longest_wait_seconds=None if waits is None else round(waits.total_seconds()),
        ),
        models=Models(
            fitted=models.fitted,
            oldest_days=None if models.oldest is None else (now - models.oldest).days,
            newest_days=None if models.newest is None else (now - models.newest).days,
        ),
    )
