"""Names that other systems know records by: each is given to one record of its kind in a fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.problems import Conflict
from api.storage.external_refs import is_taken

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables.base import Record


def refuse_taken(
    session: Session,
    table: type[Record],
    fleet_id: str,
    external_ref: str | None,
    *,
    now: str | None = None,
) -> None:
    """Refuse a name that another record of the kind has.

    Args:
        session: any session.
        table: of the records.
        fleet_id: whose.
        external_ref: the name that a record is to get; None: none.
        now: the name that it has already.

    Raises:
        Conflict: another one has it.
    """
    if external_ref is None or external_ref == now:
        return
    if is_taken(session, table, fleet_id, external_ref):
        raise Conflict("a record of this kind with this external_ref is stored already", field="external_ref")
