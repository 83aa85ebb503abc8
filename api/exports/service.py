"""What an export holds: the columns that an import takes, in one order, so that what goes out comes back in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.exports import store
from api.imports.fields import kinds
from api.storage.session import reading

if TYPE_CHECKING:
    from collections.abc import Iterator

    from api.imports.fields import Kind
    from api.storage.engine import Database


def columns(kind: Kind) -> tuple[str, ...]:
    """Names of the columns, what a record belongs to first."""
    return kind.names


def rows(database: Database, fleet_id: str, name: str) -> Iterator[dict[str, Any]]:
    """Every record of a kind, flat, by the name of the column; a transaction is open as long as they are read."""
    kind = kinds()[name]
    leaves = [leaf for leaf in kind.leaves.values() if leaf.path != "external_ref"]
    parent = () if kind.parent_ref is None else (kind.parent_ref,)
    paths = (*parent, "external_ref", *(leaf.path for leaf in leaves))
    with reading(database) as session:
        for record in store.records(session, fleet_id, kind, [leaf.column for leaf in leaves]):
            yield {
                path: None if value in ("", []) else value for path, value in zip(paths, record, strict=True)
            }
