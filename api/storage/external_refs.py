"""Looks whether another system's name is given to a record already."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import select

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.tables.base import Record


def is_taken(session: Session, table: type[Record], fleet_id: str, external_ref: str) -> bool:
    """Whether a record of the fleet in this table has the name."""
    found = select(table.id).where(table.fleet_id == fleet_id, table.external_ref == external_ref)
    return session.exec(found).first() is not None
