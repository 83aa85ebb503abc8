"""Which parts were renewed against one complaint, how well each fits it, and whether an undated part may be the car's first.

Revision 0008, follows 0007.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    with op.batch_alter_table("removal") as batch:
        batch.add_column(sa.Column("shared_event", sa.String()))
        batch.add_column(sa.Column("complaint_fit", sa.Float()))
    index("removal", "fleet_id", "shared_event")
    with op.batch_alter_table("fitment") as batch:
        batch.add_column(sa.Column("original_chance", sa.Float()))


def downgrade() -> None:
    """Step back."""
    with op.batch_alter_table("fitment") as batch:
        batch.drop_column("original_chance")
    op.drop_index("ix_removal_fleet_id_shared_event", "removal")
    with op.batch_alter_table("removal") as batch:
        batch.drop_column("complaint_fit")
        batch.drop_column("shared_event")
