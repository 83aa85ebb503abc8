"""The worker: runs queued jobs in this process, shows that it is alive, takes over from workers that are not.

On SQLite there is one process, so whatever another worker left is taken over at the start. On PostgreSQL any number
of hosts share the queue; a worker silent for 30 s has its jobs resumed by another one. The library recovers only what
its own ``executor_id`` left, and each process has an id of its own, so that is done here.
"""

from __future__ import annotations

import os
import socket
import threading
import uuid
from datetime import timedelta
from typing import TYPE_CHECKING

import structlog
from dbos import DBOS

from api.jobs import queue, store
from api.jobs.run import run_job
from api.storage.session import reading, writing
from api.storage.types import utc_now

if TYPE_CHECKING:
    from api.storage.engine import Database

log = structlog.get_logger(__name__)

SILENT_AFTER = timedelta(seconds=30)
BEAT_SECONDS = 5.0
_FORGOTTEN_AFTER = timedelta(days=1)
_POLLING_SECONDS = 0.25


class WorkerError(RuntimeError):
    """A second worker was started in one process; the queue library holds one."""


class Worker:
    """Runs jobs of one database in this process.

    Args:
        database: whose jobs; its schema and queue tables are up to date.
        threads: how many jobs run at once here.
        silent_after: how long another worker may be silent before its jobs are taken over.
        beat_seconds: how often this one shows that it is alive.
    """

    _running: Worker | None = None

    def __init__(
        self,
        database: Database,
        *,
        threads: int = 2,
        silent_after: timedelta = SILENT_AFTER,
        beat_seconds: float = BEAT_SECONDS,
    ) -> None:
        self.database = database
        self.id = f"{socket.gethostname()}-{os.getpid()}-{uuid.uuid4().hex[:8]}"
        self._threads = threads
        self._silent_after = silent_after
        self._beat_seconds = beat_seconds
        self._busy = 0
        self._lock = threading.Lock()
        self._stopping = threading.Event()
        self._heart = threading.Thread(target=self._keep_beating, name="worker-heart", daemon=True)

    @classmethod
    def current(cls) -> Worker:
        """The worker of this process."""
        if cls._running is None:
            raise WorkerError("no worker runs in this process")
        return cls._running

    @property
    def alive(self) -> bool:
        """Whether it is running."""
        return Worker._running is self and self._heart.is_alive()

    def start(self) -> None:
        """Begin to run jobs.

        Raises:
            WorkerError: this process has a worker already.
        """
        if Worker._running is not None:
            raise WorkerError("this process runs jobs already")
        Worker._running = self
        queue.quieten()
        DBOS(
            config={
                "name": queue.APPLICATION,
                "system_database_url": queue.queue_url(self.database),
                "executor_id": self.id,
                "application_version": queue.PROTOCOL,
                "log_level": "WARNING",
                "enable_otlp": False,
                "notification_listener_polling_interval_sec": 1.0,
            }
        )
        DBOS.launch()
        DBOS.register_queue(
            queue.QUEUE, worker_concurrency=self._threads, polling_interval_sec=_POLLING_SECONDS
        )
        self._beat()
        self._heart.start()

    def stop(self, *, wait_seconds: int = 10) -> None:
        """Take no more jobs, let running ones come to a stop, and leave in good order."""
        self._stopping.set()
        self._heart.join(timeout=self._beat_seconds + 1)
        DBOS.destroy(workflow_completion_timeout_sec=wait_seconds if self._busy else 0)
        with writing(self.database) as session:
            store.leave(session, self.id)
        Worker._running = None

    def run(self, job_id: str) -> None:
        """Make one attempt at a job."""
        with self._lock:
            self._busy += 1
        try:
            run_job(self.database, job_id, self.id, self._stopping.is_set)
        finally:
            with self._lock:
                self._busy -= 1

    def _keep_beating(self) -> None:
        while not self._stopping.wait(self._beat_seconds):
            try:
                self._beat()
            except Exception:
                log.exception("worker could not show that it is alive")

    def _beat(self) -> None:
        """Show life, then take over what silent workers left."""
        now = utc_now()
        with writing(self.database) as session:
            store.beat(session, self.id, queue.PROTOCOL)
            store.forget_workers(session, before=now - _FORGOTTEN_AFTER)
        with reading(self.database) as session:
            heard = store.live_workers(session, now - self._silent_after)
        others = set() if self.database.is_sqlite else heard - {self.id}
        self._resume_left_places(others)
        self._replace_lost_places(others)

    def _resume_left_places(self, others: set[str]) -> None:
        """Places in the queue that a silent worker had begun."""
        begun = DBOS.list_workflows(
            status="PENDING", name=queue.WORKFLOW, load_input=False, load_output=False
        )
        for left in begun:
            if left.executor_id in others | {self.id}:
                continue
            with writing(self.database) as session:
                mine = store.take_over(session, _job_of(left.workflow_id), self.id, others)
            if mine:
                log.warning("taking over a job", job=left.workflow_id, left_by=left.executor_id)
                DBOS.resume_workflow(left.workflow_id, queue_name=queue.QUEUE)

    def _replace_lost_places(self, others: set[str]) -> None:
        """Jobs marked as running whose place has ended without their own end: they get a new one."""
        with writing(self.database) as session:
            for job in store.orphans(session, others | {self.id}):
                if store.take_over(session, job.id, self.id, others):
                    log.warning("queueing a job anew", job=job.id, left_by=job.worker_id)
                    queue.place(session, job.id, place_id=f"{job.id}/{job.attempt}")


def _job_of(place_id: str) -> str:
    return place_id.partition("/")[0]


@DBOS.workflow(name=queue.WORKFLOW)
def _job(job_id: str) -> None:
    """What the queue runs; the job's own row says what it is."""
    Worker.current().run(job_id)
