"""Rules for digests: one per fleet and ISO week where the fleet is, made by a job, never rewritten."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, cast

from api import jobs
from api.digests import store
from api.digests.content import content, week_of
from api.digests.schemas import DigestContent, DigestListed, DigestOut
from api.problems import NotFound
from api.security import Principal
from api.storage import dialect
from api.storage.tables import Digest, Fleet
from api.webhooks import outbox

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables import Job
    from planner.progress import Progress

WORK = "digest"


def ask(session: Session, who: Principal) -> Job:
    """Queue the making of this week's digest; the job does nothing where there is one already."""
    return jobs.enqueue(session, who.fleet_id, kind=WORK, payload={"as_of": who.today().isoformat()})


def found(session: Session, fleet_id: str, week: str) -> Digest:
    """One week's digest.

    Raises:
        NotFound: none was made.
    """
    row = store.digest(session, fleet_id, week)
    if row is None:
        raise NotFound(f"no digest of {week}")
    return row


def shown(row: Digest) -> DigestOut:
    """A digest as it was made."""
    return DigestOut.model_validate({**row.content, "made_at": row.created_at})


def listed(row: Digest) -> DigestListed:
    """A digest in a list."""
    counts = {name: row.content[name]["count"] for name in ("became_due", "still_due", "due_soon")}
    return DigestListed.model_validate(
        {"week": row.week, "as_of": row.as_of, "made_at": row.created_at, **counts}
    )


def make(
    sessions: jobs.Sessions, job: Job, payload: dict[str, Any], progress: Progress
) -> dict[str, Any] | None:
    """The job: read what is due, then keep it, unless the week has its digest."""
    as_of = date.fromisoformat(payload["as_of"])
    week = week_of(as_of)
    with sessions.reading() as session:
        if store.digest(session, job.fleet_id, week) is not None:
            return _result(week, made=False)
        said = content(session, _reader(session, job), as_of)
    progress(1, 2, "what is due is read")
    with sessions() as session:
        made = _keep(session, job.fleet_id, said)
    progress(2, 2, "the digest is kept")
    return _result(week, made=made)


def _reader(session: Session, job: Job) -> Principal:
    fleet = cast("Fleet", session.get(Fleet, job.fleet_id))
    return Principal(fleet.id, job.id, "read", fleet.time_zone, fleet.currency)


def _keep(session: Session, fleet_id: str, said: DigestContent) -> bool:
    """Store it, unless another attempt was faster; whether it was stored."""
    dialect.wait_for_turn(session, f"digest {fleet_id} {said.week}")
    if store.digest(session, fleet_id, said.week) is not None:
        return False
    session.add(
        Digest(fleet_id=fleet_id, week=said.week, as_of=said.as_of, content=said.model_dump(mode="json"))
    )
    outbox.tell(session, fleet_id, "digest.ready", _told(said))
    return True


def _told(said: DigestContent) -> dict[str, Any]:
    counts = {name: getattr(said, name).count for name in ("became_due", "still_due", "due_soon")}
    return {
        "week": said.week,
        "as_of": said.as_of.isoformat(),
        "digest": f"/v1/digests/{said.week}",
        "do_not_drive": [one.words for one in said.do_not_drive],
        **counts,
    }


def _result(week: str, *, made: bool) -> dict[str, Any]:
    return {"week": week, "made": made, "digest": f"/v1/digests/{week}"}


jobs.register(WORK, make)
