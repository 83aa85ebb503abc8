"""Rules for parts renewed at once against one complaint: one car, one outcome, no more parts than were said."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.history import store
from api.problems import Conflict
from api.storage import dialect

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables import Fitment, Removal


def agree_with_the_others(session: Session, fitment: Fitment, row: Removal) -> None:
    """Refuse a removal that contradicts the others with the same `shared_event`.

    Args:
        session: a session that writes; the car is held already.
        fitment: whose removal it is.
        row: the removal, not yet stored.

    Raises:
        Conflict: the complaint is another car's, its outcome differs, or more parts bear its name than were changed together.
    """
    if row.shared_event is None:
        return
    dialect.wait_for_turn(session, f"shared event {row.fleet_id} {row.shared_event}")
    others = store.renewed_against(session, row.fleet_id, row.shared_event)
    for other, vehicle_id in others:
        if vehicle_id != fitment.vehicle_id:
            raise Conflict(
                f"shared_event: wanted parts of one car; {row.shared_event} is a complaint of another car, and this part was "
                "not on it: give each complaint a name of its own",
                field="shared_event",
            )
        if other.cured != row.cured:
            raise Conflict(
                f"cured: wanted one outcome for all parts renewed against {row.shared_event}, "
                f"which is {_said(cured=other.cured)} so far, got {_said(cured=row.cured)}",
                field="cured",
            )
    _no_more_than_said([other for other, _ in others], row)


def _no_more_than_said(others: list[Removal], row: Removal) -> None:
    said = [one.changed_together for one in (*others, row) if one.changed_together > 1]
    if said and len(others) + 1 > min(said):
        raise Conflict(
            f"changed_together: {len(others) + 1} parts bear the name {row.shared_event}, more than the "
            f"{min(said)} that were said to be changed together",
            field="changed_together",
        )


def _said(*, cured: bool | None) -> str:
    return {True: "cured", False: "not cured", None: "not known"}[cured]
