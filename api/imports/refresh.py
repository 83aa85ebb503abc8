"""The job that follows an import: usage, true totals and forecasts of its cars, a few cars a transaction."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.bridge import keep
from api.bridge import store as bridge
from api.bridge.in_force.ready import ready_for_cars
from api.imports import clearing, looking, store
from api.imports.fields import kinds
from api.imports.staged import store as staged

if TYPE_CHECKING:
    from api.jobs import Sessions
    from api.storage.tables import Job
    from planner.progress import Progress

CARS_IN_ONE_TRANSACTION = 5
_CARS_AT_ONCE = 500


def bring_up_to_date(
    sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress
) -> dict[str, Any]:
    """Re-plan every car that the import's records are of; done again, it does nothing that is done already.

    Returns:
        {"import_id", "cars_replanned"}.
    """
    with sessions.reading() as session:
        row = store.found(session, job.fleet_id, payload["import_id"])
    if row is None:
        return {"import_id": payload["import_id"], "cars_replanned": 0}
    kind, done = kinds()[row.kind], 0
    with sessions.reading() as walking:
        for ids in staged.cars_of(walking, row, kind, _CARS_AT_ONCE):
            for first in range(0, len(ids), CARS_IN_ONE_TRANSACTION):
                some = ids[first : first + CARS_IN_ONE_TRANSACTION]
                _replan(sessions, job.fleet_id, some, looking.today(sessions, row))
                done += len(some)
                progress(done, 0, "cars re-planned")
    clearing.drop_notes(sessions, row)
    return {"import_id": row.id, "cars_replanned": done}


def _replan(sessions: Sessions, fleet_id: str, ids: list[str], today: Any) -> None:
    ready_for_cars(sessions.database, fleet_id, ids)
    with sessions() as session:
        bridge.hold_vehicles(session, fleet_id, ids)
        keep.replan(session, fleet_id, ids, today)
