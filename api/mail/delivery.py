"""The job that sends one digest to one address: some tries at once, each shown; what fails is kept for a later try.

At least once: a try is written down before the mail is handed over and its end afterwards, so a process that dies in
between leaves a try without an end, and the mail goes out again. Both carry the same Message-ID (that of the delivery, one
per address and week), by which mailboxes know the second for the first (RFC 5322 §3.6.4).
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from api.calendar.entries import entries
from api.calendar.feed import written
from api.digests import service as digests
from api.digests import store as digest_store
from api.mail import store
from api.mail.message import message
from api.mail.post import MailError, send
from api.problems import Cannot
from api.security import Principal
from api.storage.tables import Fleet
from api.storage.types import utc_now

if TYPE_CHECKING:
    from email.message import EmailMessage

    from api.jobs import Sessions
    from api.settings import Settings
    from api.storage.tables import DigestDelivery, DigestSubscription, Job
    from planner.progress import Progress

WORK = "digest mail"
WAITS = (1.0, 4.0)
"""Seconds between the tries of one job."""
LATER = (timedelta(minutes=5), timedelta(minutes=30), timedelta(hours=2), timedelta(hours=6))
"""How long a delivery rests after each job that failed; the last one again and again."""
NO_END = "a try was begun, and whether the server took the mail is not known; it goes out again under the same Message-ID"


@dataclass(frozen=True)
class Delivering:
    """The work, with the settings of the process that does it."""

    settings: Settings

    def __call__(
        self, sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress
    ) -> dict[str, Any] | None:
        """Send one digest, unless it is sent.

        Raises:
            Cannot: the mail was not taken; the delivery stays, and says when it is tried again.
        """
        delivery_id = payload["delivery_id"]
        with sessions.reading() as session:
            found = store.delivery(session, job.fleet_id, delivery_id)
            if found is None or found[0].sent_at is not None:
                return {"sent": found is not None}
            made = digest_store.digest(session, job.fleet_id, found[0].week) is not None
        if not made:
            digests.make(sessions, job, {"as_of": _day(*found).isoformat()}, progress)
        mail = self._mail(sessions, job, delivery_id)
        tries = len(WAITS) + 1
        for number in range(1, tries + 1):
            _begin(sessions, job, delivery_id)
            problem = self._try(mail)
            _end(sessions, job, delivery_id, problem)
            if problem is None:
                progress(tries, tries, "sent")
                return {"sent": True, "tries": number}
            progress(number, tries, f"try {number} failed: {problem}")
            if problem.final or number == tries:
                raise Cannot(f"the mail was not taken: {problem}")
            time.sleep(WAITS[number - 1])
        return None

    def _try(self, mail: EmailMessage) -> MailError | None:
        try:
            send(mail, self.settings)
        except MailError as problem:
            return problem
        return None

    def _mail(self, sessions: Sessions, job: Job, delivery_id: str) -> EmailMessage:
        with sessions.reading() as session:
            found = store.delivery(session, job.fleet_id, delivery_id)
            if found is None:
                raise Cannot("the address was taken off the list")
            delivery, subscription = found
            fleet = cast("Fleet", session.get(Fleet, job.fleet_id))
            who = Principal(fleet.id, job.id, "read", fleet.time_zone, fleet.currency)
            digest = digests.shown(digests.found(session, fleet.id, delivery.week))
            calendar = written(f"Due work, {fleet.name}", entries(session, who, None, digest.as_of))
            return message(
                digest,
                fleet.name,
                calendar,
                sender=self.settings.mail_from or "nobody@localhost",
                address=subscription.address,
                identity=delivery.id,
                pages=(self.settings.public_url or "").rstrip("/"),
            )


def _day(delivery: DigestDelivery, subscription: DigestSubscription) -> date:
    """The day that the digest was to be sent on, whenever it is sent."""
    year, week = delivery.week.split("-W")
    return date.fromisocalendar(int(year), int(week), subscription.weekday)


def _begin(sessions: Sessions, job: Job, delivery_id: str) -> None:
    """Write down that a try begins, before anything is handed over."""
    with sessions() as session:
        found = store.delivery(session, job.fleet_id, delivery_id)
        if found is not None:
            found[0].attempts += 1
            found[0].problem = NO_END
            session.add(found[0])


def _end(sessions: Sessions, job: Job, delivery_id: str, problem: MailError | None) -> None:
    """Write down how a try ended, and when the next one is."""
    with sessions() as session:
        found = store.delivery(session, job.fleet_id, delivery_id)
        if found is None:
            return
        row = found[0]
        row.problem = None if problem is None else str(problem)
        row.sent_at = utc_now() if problem is None else None
        jobs_so_far = (row.attempts - 1) // (len(WAITS) + 1)
        rest = LATER[min(jobs_so_far, len(LATER) - 1)]
        row.next_try_at = None if problem is None or problem.final else utc_now() + rest
        session.add(row)
