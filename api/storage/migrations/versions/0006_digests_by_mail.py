"""Addresses that get digests by mail, and their deliveries.

Revision 0006, follows 0005.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, unique

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "digest_subscription",
        *owned("digest_subscription"),
        sa.Column("address", sa.String(), nullable=False),
        sa.Column("weekday", sa.Integer(), nullable=False),
        sa.Column("hour", sa.Integer(), nullable=False),
        sa.Column("last_week", sa.String()),
        unique("digest_subscription", "fleet_id", "address"),
    )
    index("digest_subscription", "fleet_id")
    op.create_table(
        "digest_delivery",
        *owned("digest_delivery"),
        sa.Column("subscription_id", sa.String(), nullable=False),
        sa.Column("week", sa.String(), nullable=False),
        sa.Column("job_id", sa.String()),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("problem", sa.String()),
        sa.Column("next_try_at", MOMENT),
        sa.Column("sent_at", MOMENT),
        reference("digest_delivery", "subscription_id", "digest_subscription"),
        unique("digest_delivery", "subscription_id", "week"),
    )
    index("digest_delivery", "fleet_id")
    index("digest_delivery", "next_try_at")


def downgrade() -> None:
    """Step back."""
    op.drop_table("digest_delivery")
    op.drop_table("digest_subscription")
