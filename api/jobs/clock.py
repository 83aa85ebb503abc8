"""What begins work by the clock: some looks at the time every so often, in a thread of their own.

A look says by itself what has come and claims it in the database, so any number of processes may look at once. The
queue library's own schedules know one time zone per process; here every fleet has its own.
"""

from __future__ import annotations

import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

import structlog

from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from datetime import datetime

log = structlog.get_logger(__name__)


@dataclass(frozen=True)
class Look:
    """A look at the clock.

    Attributes:
        name: for the log.
        every_seconds: how often.
        look: called with the moment; may fail, and is called again later.
    """

    name: str
    every_seconds: float
    look: Callable[[datetime], object]


@contextmanager
def looking(looks: Sequence[Look]) -> Iterator[None]:
    """Look at the clock until the block ends; the first time after each look's own interval."""
    stopping = threading.Event()
    thread = threading.Thread(target=_keep_looking, args=(looks, stopping), name="clock", daemon=True)
    thread.start()
    try:
        yield
    finally:
        stopping.set()
        thread.join(timeout=10)


def _keep_looking(looks: Sequence[Look], stopping: threading.Event) -> None:
    due = {look.name: time.monotonic() + look.every_seconds for look in looks}
    while not stopping.wait(max(0.0, min(due.values()) - time.monotonic())):
        for look in looks:
            if time.monotonic() < due[look.name]:
                continue
            try:
                look.look(utc_now())
            except Exception:
                log.exception("a look at the clock failed", look=look.name)
            due[look.name] = time.monotonic() + look.every_seconds
