"""Fitments know the one on another car that they go on from.

Revision 0019, follows 0018.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.add_column("fitment", sa.Column("moved_from", sa.String(), nullable=True))
    index("fitment", "moved_from")


def downgrade() -> None:
    """Step back; parts that moved stay where they are."""
    op.drop_index("ix_fitment_moved_from", table_name="fitment")
    with op.batch_alter_table("fitment") as table:
        table.drop_column("moved_from")
