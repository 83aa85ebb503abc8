"""How the queue and the models stand over all fleets, for the operator: counts and moments, nothing of any fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from sqlalchemy import func, select
from sqlmodel import col

from api.storage.tables import Job, LifeModel, Worker

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session


class QueueStanding(NamedTuple):
    """Workers alive, jobs that wait, and since when the first of them does."""

    workers: int
    waiting: int
    oldest: datetime | None


class ModelStanding(NamedTuple):
    """Fitted models in force: how many, the oldest and the newest."""

    fitted: int
    oldest: datetime | None
    newest: datetime | None


def queue(session: Session, *, heard_since: datetime) -> QueueStanding:
    """The queue, and the workers heard of since a moment."""
    alive = select(func.count()).select_from(Worker).where(col(Worker.last_seen_at) >= heard_since)
    waiting = select(func.count(), func.min(Job.created_at)).where(col(Job.state) == "queued")
    count, oldest = session.execute(waiting).one()
    return QueueStanding(session.execute(alive).scalar_one(), count, oldest)


def fitted_models(session: Session) -> ModelStanding:
    """The fitted models in force."""
    found = select(func.count(), func.min(LifeModel.created_at), func.max(LifeModel.created_at)).where(
        col(LifeModel.current).is_(True),
        col(LifeModel.circumstances) == "",
        col(LifeModel.source) == "fitted",
    )
    return ModelStanding(*session.execute(found).one())
