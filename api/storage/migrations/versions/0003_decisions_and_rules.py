"""Keepers' decisions to put work off, and rules published for a kind.

Revision 0003, follows 0002.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned, reference, unique

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "put_off",
        *owned("put_off"),
        sa.Column("fitment_id", sa.String(), nullable=False),
        sa.Column("until", sa.Date()),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("decided_on", sa.Date(), nullable=False),
        reference("put_off", "fitment_id", "fitment"),
        unique("put_off", "fitment_id"),
    )
    index("put_off", "fleet_id")
    op.create_table(
        "kind_rule",
        *owned("kind_rule"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("model_id", sa.String()),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        reference("kind_rule", "model_id", "life_model", ondelete="SET NULL"),
        unique("kind_rule", "fleet_id", "kind"),
    )
    index("kind_rule", "fleet_id")
    index("kind_rule", "model_id")


def downgrade() -> None:
    """Step back."""
    op.drop_table("kind_rule")
    op.drop_table("put_off")
