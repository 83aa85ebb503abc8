"""Whether a fleet learns together with others; none does until it says so.

Revision 0015, follows 0014.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    with op.batch_alter_table("fleet") as fleet:
        fleet.add_column(sa.Column("pooling", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("fleet") as fleet:
        fleet.alter_column(
            "pooling", existing_type=sa.Boolean(), existing_nullable=False, server_default=None
        )


def downgrade() -> None:
    """Step back."""
    with op.batch_alter_table("fleet") as fleet:
        fleet.drop_column("pooling")
