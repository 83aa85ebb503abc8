"""Imports keep no mark of how far their cars were brought up to date: the job that does it keeps its own count.

Revision 0017, follows 0016.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    with op.batch_alter_table("bulk_import") as table:
        table.drop_column("refreshed_to")


def downgrade() -> None:
    """Step back."""
    with op.batch_alter_table("bulk_import") as table:
        table.add_column(sa.Column("refreshed_to", sa.String(), nullable=False, server_default=""))
