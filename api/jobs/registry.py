"""Which work a kind of job stands for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from api.storage import session as units

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from sqlmodel import Session

    from api.storage.engine import Database
    from api.storage.tables import Job
    from planner.progress import Progress


@dataclass(frozen=True)
class Sessions:
    """Transactions for a job: calling it opens one that writes and commits at the end of its block.

    Keep each of them under a second, so that requests get their turn: bulk work goes in chunks.
    """

    database: Database

    def __call__(self) -> AbstractContextManager[Session]:
        """A transaction that writes."""
        return units.writing(self.database)

    def reading(self) -> AbstractContextManager[Session]:
        """A transaction that only reads."""
        return units.reading(self.database)


Work = Callable[[Sessions, "Job", dict[str, Any], "Progress"], dict[str, Any] | None]
"""Called with sessions, the job's row (detached), its payload and a progress callable; what it returns is the result.

The progress callable raises ``Cancelled`` when somebody asked the job to stop, and ``Superseded`` when this attempt
is not to go on (another worker has the job, or this one is stopping): let both through.
"""


class Cancelled(Exception):  # noqa: N818 - an order, not an error
    """Somebody asked the job to stop."""


class Superseded(Exception):  # noqa: N818 - an order, not an error
    """This attempt is not to go on and writes nothing more: another worker has the job, or this one is stopping."""


class UnknownWorkError(LookupError):
    """No work is registered for a kind."""


_works: dict[str, Work] = {}


def register(kind: str, work: Work) -> None:
    """Say what a kind of job does; a later registration replaces an earlier one."""
    _works[kind] = work


def work_for(kind: str) -> Work:
    """The work of a kind.

    Raises:
        UnknownWorkError: none is registered, for example because a later release made the job.
    """
    try:
        return _works[kind]
    except KeyError as missing:
        raise UnknownWorkError(f"no work is registered for jobs of kind {kind!r}") from missing
