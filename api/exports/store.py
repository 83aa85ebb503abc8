"""Queries for exports: all records of one kind, with the names by which another fleet will know them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import func
from sqlalchemy import select as select_columns
from sqlmodel import col

from api.storage.tables import Fitment, Vehicle

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from sqlmodel import Session

    from api.imports.fields import Kind

_AT_ONCE = 1_000


def records(session: Session, fleet_id: str, kind: Kind, columns: Sequence[str]) -> Iterator[Sequence[Any]]:
    """Every record of a kind: what it belongs to, its own reference, then the columns asked for; by id.

    A record that no other system has named goes by our own id.

    Args:
        session: a session that reads; it stays open meanwhile.
        fleet_id: whose.
        kind: of the records.
        columns: of its table.
    """
    table: Any = kind.table
    parent: Any = {"vehicle": Vehicle, "fitment": Fitment, None: None}[kind.parent]
    named = [func.coalesce(one.external_ref, one.id) for one in (parent, table) if one is not None]
    wanted = select_columns(*named, *(getattr(table, name) for name in columns)).where(
        table.fleet_id == fleet_id
    )
    if parent is not None:
        wanted = wanted.join(parent, col(parent.id) == getattr(table, f"{kind.parent}_id"))
    for some in session.execute(
        wanted.order_by(table.id), execution_options={"yield_per": _AT_ONCE}
    ).partitions():
        yield from some
