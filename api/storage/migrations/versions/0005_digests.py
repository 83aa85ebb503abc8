"""Weekly digests, and an index that finds repairs made lately.

Revision 0005, follows 0004.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned, unique

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "digest",
        *owned("digest"),
        sa.Column("week", sa.String(), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        unique("digest", "fleet_id", "week"),
    )
    index("digest", "fleet_id")
    index("repair", "fleet_id", "repaired_on")


def downgrade() -> None:
    """Step back."""
    op.drop_index("ix_repair_fleet_id_repaired_on", "repair")
    op.drop_table("digest")
