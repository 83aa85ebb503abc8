"""Words that the first steps are written in: columns and constraints that many tables share."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

MOMENT = sa.DateTime(timezone=True)


def stamped(name: str) -> list[sa.schema.SchemaItem]:
    """Identity, version and timestamps of a row."""
    return [
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("updated_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{name}"),
    ]


def owned(name: str) -> list[sa.schema.SchemaItem]:
    """A row of one fleet."""
    return [
        *stamped(name),
        sa.Column("fleet_id", sa.String(), nullable=False),
        reference(name, "fleet_id", "fleet"),
    ]


def reference(name: str, column: str, other: str, ondelete: str = "CASCADE") -> sa.ForeignKeyConstraint:
    """A column that names another table's row."""
    return sa.ForeignKeyConstraint(
        [column], [f"{other}.id"], name=f"fk_{name}_{column}_{other}", ondelete=ondelete
    )


def unique(name: str, *columns: str) -> sa.UniqueConstraint:
    """Columns that together occur once."""
    return sa.UniqueConstraint(*columns, name="_".join(["uq", name, *columns]))


def index(name: str, *columns: str) -> None:
    """An index over the columns."""
    op.create_index("_".join(["ix", name, *columns]), name, list(columns))
