"""Rules for the fleet itself: a changed discount rate is brought to all dates by jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api import jobs
from api.fleets import store
from api.part_kinds.service import APPLY_TERMS
from api.problems import Forbidden

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.fleets.schemas import FleetUpdate
    from api.security import Principal
    from api.storage.tables import Fleet, Job


def found(session: Session, who: Principal) -> Fleet:
    """The fleet that the key belongs to."""
    return store.fleet(session, who.fleet_id)


def held(session: Session, who: Principal) -> Fleet:
    """The same, held until the transaction ends."""
    return store.fleet_for_change(session, who.fleet_id)


def change(session: Session, who: Principal, row: Fleet, body: FleetUpdate) -> list[Job]:
    """Change the fleet; one job for each kind of which it has a life, where dates may move.

    Raises:
        Forbidden: whether to share is an admin's choice.
    """
    changes = body.model_dump(include=body.model_fields_set)
    if "pooling" in changes and who.scope != "admin":
        raise Forbidden("to share what the fleet learns needs scope admin")
    before = row.discount_rate
    if all(getattr(row, name) == value for name, value in changes.items()):
        return []
    row.sqlmodel_update(changes)
    session.add(row)
    session.flush()
    if row.discount_rate == before:
        return []
    kinds = store.kinds_with_a_life(session, who.fleet_id)
    return [jobs.enqueue(session, who.fleet_id, kind=APPLY_TERMS, payload={"kind": kind}) for kind in kinds]
