"""Fault-findings, and a fleet's own complaints and checks.

Revision 0007, follows 0006.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned, reference, unique

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "fault_finding",
        *owned("fault_finding"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("complaint", sa.String(), nullable=False),
        sa.Column("title", sa.String(), nullable=False),
        sa.Column("system", sa.String()),
        sa.Column("conditions", sa.JSON(), nullable=False),
        sa.Column("last_ran_well", sa.Date(), nullable=False),
        sa.Column("noted_on", sa.Date(), nullable=False),
        sa.Column("fault_present", sa.Float(), nullable=False),
        sa.Column("note", sa.String()),
        sa.Column("opened_with", sa.JSON(), nullable=False),
        sa.Column("suspects", sa.JSON(), nullable=False),
        sa.Column("steps", sa.JSON(), nullable=False),
        sa.Column("closed_on", sa.Date()),
        sa.Column("closing", sa.JSON(), nullable=False),
        sa.Column("cause", sa.JSON(), nullable=False),
        reference("fault_finding", "vehicle_id", "vehicle"),
    )
    index("fault_finding", "fleet_id")
    index("fault_finding", "fleet_id", "complaint")
    index("fault_finding", "fleet_id", "vehicle_id")
    for name in ("own_complaint", "own_check"):
        op.create_table(
            name,
            *owned(name),
            sa.Column("name", sa.String(), nullable=False),
            sa.Column("content", sa.JSON(), nullable=False),
            unique(name, "fleet_id", "name"),
        )
        index(name, "fleet_id")


def downgrade() -> None:
    """Step back."""
    op.drop_table("own_check")
    op.drop_table("own_complaint")
    op.drop_table("fault_finding")
