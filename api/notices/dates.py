"""Cars whose dates changed: told as a list of cars and why; their schedules say the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal

from api.bridge.store import vehicles
from api.webhooks import outbox

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from sqlmodel import Session

    from api.notices import store
    from api.storage.tables import Vehicle

Because = Literal["records", "model", "settings", "day"]
"""A car's own records, the life of a kind, the fleet's terms for a kind, or the passing of days."""

KIND: Final = "schedule.changed"
CARS_IN_ONE_EVENT = 500


def differing(before: store.Standing, after: store.Standing) -> set[str]:
    """Cars with a part whose dates changed, that is new or gone."""
    return {
        car for car, part in before.keys() | after.keys() if before.get((car, part)) != after.get((car, part))
    }


def tell(session: Session, fleet_id: str, rows: Sequence[Vehicle], because: Because) -> None:
    """Tell that the schedules of these cars changed, in the caller's transaction."""
    for start in range(0, len(rows), CARS_IN_ONE_EVENT):
        _tell(session, fleet_id, rows[start : start + CARS_IN_ONE_EVENT], because)


def tell_ids(session: Session, fleet_id: str, vehicle_ids: Collection[str], because: Because) -> None:
    """The same by their ids."""
    if vehicle_ids and KIND in outbox.wanted(session, fleet_id):
        tell(session, fleet_id, vehicles(session, fleet_id, vehicle_ids), because)


def _tell(session: Session, fleet_id: str, rows: Sequence[Vehicle], because: Because) -> None:
    cars = [_shown(row) for row in rows]
    outbox.tell(session, fleet_id, KIND, {"because": because, "vehicles": cars})


def _shown(row: Vehicle) -> dict[str, Any]:
    return {
        "vehicle_id": row.id,
        "name": row.name,
        "external_ref": row.external_ref,
        "schedule": f"/v1/vehicles/{row.id}/schedule",
    }
