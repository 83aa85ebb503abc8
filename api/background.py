"""Background work of one process: which jobs it can do, its worker, and its looks at the clock.

The service runs it within its own process, and `wearwright worker` on a host of its own.
"""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from api.jobs.clock import Look, looking
from api.jobs.registry import Sessions, register
from api.jobs.worker import Worker
from api.mail import clock as mail_clock
from api.mail import delivery as mail
from api.schedules import daily
from api.webhooks import delivery as webhooks
from api.webhooks import outbox

if TYPE_CHECKING:
    from collections.abc import Iterator

    from api.settings import Settings
    from api.storage.engine import Database

_LATER_TRIES_EVERY_SECONDS = 2.0


@contextmanager
def working(database: Database, settings: Settings) -> Iterator[Worker]:
    """Do background work until the block ends; running jobs come to a stop then, and are taken up later.

    Args:
        database: whose jobs; its tables and queue are those of this release.
        settings: of the service.
    """
    register(mail.WORK, mail.Delivering(settings))
    register(outbox.WORK, webhooks.Delivering(settings))
    sessions = Sessions(database)
    looks = (
        Look("digests", mail_clock.EVERY_SECONDS, lambda now: mail_clock.tick(database, now)),
        Look("days", daily.EVERY_SECONDS, lambda now: daily.tick(sessions, now)),
        Look("webhooks", _LATER_TRIES_EVERY_SECONDS, lambda now: webhooks.tick(sessions, now)),
    )
    worker = Worker(database, threads=settings.job_threads)
    worker.start()
    try:
        with looking(looks):
            yield worker
    finally:
        worker.stop()
