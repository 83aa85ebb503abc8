"""Looking back: asked for, done by a job on the fleet's own records, read as stored."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api import jobs
from api.backtests import store
from api.backtests.schemas import BacktestOut
from api.bridge.learning.looking_back import look_back
from api.problems import Conflict
from api.schedules.answers import cautions_of
from api.storage import dialect
from api.storage.tables import KindBacktest

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.backtests.schemas import BacktestCreate
    from api.jobs import Sessions
    from api.security import Principal
    from api.storage.tables import Job
    from planner.catalogue import PartKind
    from planner.progress import Progress

BACKTEST = "backtest"

JUDGED = "Judged is the life of the kind: not what forecasts know beside it of single cars, measurements, repairs and bad new parts."
"""What a verdict is about."""

NOT_YET = "Not looked back on yet: ask for it with POST to its backtests."
ESTIMATES = "These are figures about past predictions, no promise about the next part and no inspection."


def ask(session: Session, who: Principal, kind: PartKind, body: BacktestCreate) -> Job:
    """Queue the looking back.

    Raises:
        Conflict: a first day that is still to come where the fleet is.
    """
    if body.first is not None and body.first > who.today():
        raise Conflict(
            f"there is no past day from {body.first} on: it is {who.today()} where the fleet is",
            field="first",
        )
    payload = {"kind": kind.id, "asked": body.model_dump(mode="json")}
    return jobs.enqueue(session, who.fleet_id, kind=BACKTEST, payload=payload)


def work_out(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Look back on a kind and store what was found in place of what was found before.

    Returns:
        {"kind", "failures", "expected", "observed", "words"}.

    Raises:
        TooFewFailures: the records hold nothing to look back on; what was found before stays.
    """
    kind, asked = str(payload["kind"]), dict(payload["asked"])
    content = look_back(sessions, job.fleet_id, kind, asked, progress)
    with sessions() as session:
        dialect.wait_for_turn(session, f"backtest {job.fleet_id} {kind}")
        row = store.found(session, job.fleet_id, kind)
        if row is None:
            row = KindBacktest(fleet_id=job.fleet_id, kind=kind, content=content)
        row.content = content
        session.add(row)
    short = {name: content[name] for name in ("failures", "expected", "observed")}
    return {"kind": kind, **short, "words": _words(content)}


jobs.register(BACKTEST, work_out)


def _words(content: dict[str, Any]) -> str:
    return f"{content['verdict']} {JUDGED}"


def read(session: Session, who: Principal, kind: PartKind) -> BacktestOut:
    """What was last found for a kind."""
    row = store.found(session, who.fleet_id, kind.id)
    return BacktestOut.model_validate(
        {
            "kind": kind.id,
            "part": kind.name_gb,
            "words": NOT_YET if row is None else _words(row.content),
            "found": None if row is None else row.content,
            "looked_back_at": None if row is None else row.updated_at,
            "cautions": [ESTIMATES, *cautions_of(kind)],
        }
    )
