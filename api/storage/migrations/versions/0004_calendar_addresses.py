"""Secret addresses of calendars, and an index that finds parts taken off lately.

Revision 0004, follows 0003.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, unique

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "calendar_address",
        *owned("calendar_address"),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("vehicle_id", sa.String()),
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("rotated_at", MOMENT),
        reference("calendar_address", "vehicle_id", "vehicle"),
        unique("calendar_address", "hash"),
    )
    index("calendar_address", "fleet_id")
    index("calendar_address", "vehicle_id")
    index("removal", "fleet_id", "removed_likely")


def downgrade() -> None:
    """Step back."""
    op.drop_index("ix_removal_fleet_id_removed_likely", "removal")
    op.drop_table("calendar_address")
