"""Bulk imports: files on their way in, and what could not be taken.

Revision 0012, follows 0011.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, unique

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "bulk_import",
        *owned("bulk_import"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("block", sa.String(), nullable=False),
        sa.Column("hidden", sa.Boolean(), nullable=False),
        sa.Column("phase", sa.String(), nullable=False),
        sa.Column("options", sa.JSON(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.Column("upload", sa.String()),
        sa.Column("file_bytes", sa.BigInteger()),
        sa.Column("file_digest", sa.String()),
        sa.Column("job_id", sa.String()),
        sa.Column("attempt", sa.Integer(), nullable=False),
        *(
            sa.Column(name, sa.Integer(), nullable=False)
            for name in ("rows_read", "rows_new", "rows_changed", "rows_same", "rows_bad")
        ),
        sa.Column("shown_at", MOMENT),
        sa.Column("refresh_job_id", sa.String()),
        sa.Column("refreshed_to", sa.String(), nullable=False),
        unique("bulk_import", "block"),
    )
    index("bulk_import", "fleet_id")
    index("bulk_import", "fleet_id", "created_at", "id")
    hidden = sa.text("hidden")
    op.create_index(
        "ix_bulk_import_hidden", "bulk_import", ["block"], sqlite_where=hidden, postgresql_where=hidden
    )
    _upgrade_parts()


def _upgrade_parts() -> None:
    """What belongs to one import."""
    _of_import("import_part", ["upload", "number"], sa.Column("content", sa.LargeBinary(), nullable=False))
    _of_import(
        "import_match",
        ["record_id"],
        sa.Column("row_number", sa.Integer(), nullable=False),
        sa.Column("changes", sa.JSON()),
        sa.Column("applied", sa.Boolean(), nullable=False),
    )
    _of_import("import_touch", ["vehicle_id"])
    _of_import(
        "import_fault",
        ["row_number", "number"],
        *(sa.Column(name, sa.String(), nullable=False) for name in ("field", "wanted", "got")),
    )


def _of_import(name: str, key: list[str], *columns: sa.Column[Any]) -> None:
    """A table of rows that go with their import."""
    whole = {"number", "row_number"}
    op.create_table(
        name,
        sa.Column("import_id", sa.String(), nullable=False),
        sa.Column("fleet_id", sa.String(), nullable=False),
        *(sa.Column(part, sa.Integer() if part in whole else sa.String(), nullable=False) for part in key),
        *columns,
        sa.PrimaryKeyConstraint("import_id", *key, name=f"pk_{name}"),
        reference(name, "import_id", "bulk_import"),
        reference(name, "fleet_id", "fleet"),
    )


def downgrade() -> None:
    """Step back."""
    for name in ("import_fault", "import_touch", "import_match", "import_part", "bulk_import"):
        op.drop_table(name)
