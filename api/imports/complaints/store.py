"""Queries for removals of a file and of the fleet that bear the same complaint's name."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import String, cast
from sqlalchemy import select as select_columns
from sqlmodel import col, or_, select

from api.history.shared_events import Renewed
from api.imports.staged.store import block_ends
from api.storage.hidden import let_see
from api.storage.tables import BulkImport, Fitment, ImportMatch, Removal

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

DAYS = ("removed_earliest", "removed_latest")

WEIGHED = ("shared_event", "cured", "changed_together", *DAYS)
"""What removals against one complaint must agree on."""

_LAST = 0xFFFFFFFF


class Change(NamedTuple):
    """What a row of the file makes of a stored removal."""

    row_number: int
    columns: dict[str, Any]


def names_staged(session: Session, row: BulkImport) -> set[str]:
    """Complaints that new removals of the file name."""
    let_see(session, row.block)
    low, high = block_ends(row, 0, _LAST)
    wanted = select_columns(col(Removal.shared_event)).where(
        col(Removal.fleet_id) == row.fleet_id, col(Removal.id) >= low, col(Removal.id) <= high
    )
    return _names(session, wanted)


def names_on(session: Session, row: BulkImport, vehicle_ids: Collection[str]) -> set[str]:
    """Complaints that removals on these cars name, staged ones too."""
    let_see(session, row.block)
    wanted = (
        select_columns(col(Removal.shared_event))
        .join(Fitment, col(Fitment.id) == col(Removal.fitment_id))
        .where(
            col(Removal.fleet_id) == row.fleet_id,
            col(Fitment.fleet_id) == row.fleet_id,
            col(Fitment.vehicle_id).in_(vehicle_ids),
        )
    )
    return _names(session, wanted)


def _names(session: Session, wanted: Any) -> set[str]:
    named = wanted.where(col(Removal.shared_event).is_not(None)).distinct()
    return set(session.execute(named).scalars())


def names_of(session: Session, row: BulkImport, removal_ids: Collection[str]) -> set[str]:
    """Complaints that some stored removals name."""
    wanted = select_columns(col(Removal.shared_event)).where(
        col(Removal.fleet_id) == row.fleet_id, col(Removal.id).in_(removal_ids)
    )
    return _names(session, wanted)


def changes(session: Session, row: BulkImport) -> dict[str, Change]:
    """Stored removals in which the file changes what has to agree."""
    text = cast(col(ImportMatch.changes), String)
    wanted = select(ImportMatch.record_id, ImportMatch.row_number, ImportMatch.changes).where(
        ImportMatch.import_id == row.id,
        ImportMatch.fleet_id == row.fleet_id,
        col(ImportMatch.changes).is_not(None),
        or_(*(text.contains(f'"{name}"') for name in WEIGHED)),
    )
    return {
        record_id: Change(number, dict(columns))
        for record_id, number, columns in session.exec(wanted)
        if columns is not None and columns.keys() & set(WEIGHED)
    }


def renewed(
    session: Session, row: BulkImport, names: Collection[str], removal_ids: Collection[str]
) -> dict[str, Renewed]:
    """Removals that name one of these complaints, staged ones too, and some others, by their ids."""
    let_see(session, row.block)
    wanted = (
        select_columns(
            col(Removal.id),
            col(Fitment.vehicle_id),
            col(Removal.shared_event),
            col(Removal.cured),
            col(Removal.changed_together),
            col(Removal.removed_earliest),
            col(Removal.removed_latest),
        )
        .join(Fitment, col(Fitment.id) == col(Removal.fitment_id))
        .where(
            col(Removal.fleet_id) == row.fleet_id,
            or_(col(Removal.shared_event).in_(names), col(Removal.id).in_(removal_ids)),
        )
    )
    return {removal_id: Renewed(*said) for removal_id, *said in session.execute(wanted)}
