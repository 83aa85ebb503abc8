"""The queue: a job's row and its place in the queue are written in one transaction, the caller's own."""

from __future__ import annotations

import logging
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from dbos import DBOS, DBOSClient, WorkflowSerializationFormat

from api.storage.tables import Job

if TYPE_CHECKING:
    from dbos import EnqueueOptions
    from sqlalchemy import Engine
    from sqlmodel import Session

    from api.storage.engine import Database

APPLICATION = "wearwright"
WORKFLOW = "job"
QUEUE = "jobs"
BEHIND = 10
"""Priority of work by the clock: it begins when nothing that somebody asked for waits (0, the library's default)."""
PROTOCOL = "jobs-1"
"""Version of what is written into the queue, not of the release: a new release runs what an old one left."""


def enqueue(
    session: Session, fleet_id: str, *, kind: str, payload: dict[str, Any] | None = None, behind: bool = False
) -> Job:
    """Queue a job in the caller's transaction: rolled back, it never was.

    Args:
        session: the caller's.
        fleet_id: whose job.
        kind: which work, as registered.
        payload: what the work needs.
        behind: whether it waits until nothing else does; for work that nobody asked for.
    """
    job = Job(fleet_id=fleet_id, kind=kind, payload=payload or {})
    session.add(job)
    session.flush()
    place(session, job.id, place_id=job.id, priority=BEHIND if behind else 0)
    return job


def place(session: Session, job_id: str, *, place_id: str, priority: int = 0) -> None:
    """Give a job a place in the queue in the caller's transaction; a place that is taken already stays as it is."""
    options: EnqueueOptions = {
        "workflow_name": WORKFLOW,
        "queue_name": QUEUE,
        "workflow_id": place_id,
        "app_version": PROTOCOL,
        "serialization_type": WorkflowSerializationFormat.PORTABLE,
    }
    if priority:
        options["priority"] = priority
    _client(session.get_bind().engine).enqueue_in_transaction(session, options, job_id)


def prepare(database: Database) -> None:
    """Make the queue's own tables, or bring them up to date."""
    quieten()
    DBOS.migrate(queue_url(database))


def queue_url(database: Database) -> str:
    """The address of the database as the queue library wants it."""
    url = database.url.set(drivername="postgresql") if not database.is_sqlite else database.url
    return url.render_as_string(hide_password=False)


def quieten() -> None:
    """Keep the queue library's notices, a console hint among them, out of our log; its warnings stay."""
    logger = logging.getLogger("dbos")
    if not logger.handlers:
        logger.addHandler(logging.NullHandler())  # or it adds a console of its own
    logger.propagate = True
    logger.setLevel(logging.WARNING)


@lru_cache(maxsize=8)
def _client(engine: Engine) -> DBOSClient:
    """The library's enqueuing side; it writes through the caller's session and opens nothing of its own."""
    return DBOSClient(system_database_engine=engine, lazy=True, application_name=APPLICATION)
