"""When a fleet's dates were last worked out, what of a part that is due soon was told, which jobs wait.

Revision 0011, follows 0010.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward; nothing was ever written into the table that is made anew."""
    with op.batch_alter_table("fleet") as fleet:
        fleet.add_column(sa.Column("dated_on", sa.Date()))
    index("job", "state", "created_at")
    op.drop_table("due_soon_told")
    op.create_table(
        "due_soon_told",
        *owned("due_soon_told"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("vehicle_name", sa.String(), nullable=False),
        sa.Column("vehicle_external_ref", sa.String()),
        sa.Column("fitment_external_ref", sa.String()),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("position", sa.String(), nullable=False),
        sa.Column("due_likely", sa.Date(), nullable=False),
    )
    _indexes()


def downgrade() -> None:
    """Step back."""
    op.drop_index("ix_job_state_created_at", "job")
    op.drop_table("due_soon_told")
    op.create_table(
        "due_soon_told",
        *owned("due_soon_told"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("due_likely", sa.Date(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
    )
    _indexes()
    with op.batch_alter_table("fleet") as fleet:
        fleet.drop_column("dated_on")


def _indexes() -> None:
    index("due_soon_told", "fleet_id")
    index("due_soon_told", "fleet_id", "vehicle_id")
