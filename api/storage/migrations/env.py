"""Alembic's entry: runs the steps on the connection that ``api.storage.schema`` passes in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alembic import context

from api.storage.tables import metadata

if TYPE_CHECKING:
    from sqlalchemy.sql.schema import SchemaItem


def _ours(_item: SchemaItem, name: str | None, kind: str, *_reflection: object) -> bool:
    """Leave the job queue's own tables, which share the database, alone."""
    return kind != "table" or name in metadata.tables


def _run() -> None:
    context.configure(
        connection=context.config.attributes["connection"],
        target_metadata=metadata,
        render_as_batch=True,
        include_object=_ours,
        compare_type=True,
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()


_run()
