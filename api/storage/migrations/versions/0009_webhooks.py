"""Webhooks, events and their deliveries, and which parts were last told as due soon.

Revision 0009, follows 0008.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, unique

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "webhook",
        *owned("webhook"),
        sa.Column("external_ref", sa.String()),
        sa.Column("url", sa.String(), nullable=False),
        sa.Column("events", sa.JSON(), nullable=False),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("secret", sa.String(), nullable=False),
        sa.Column("older", sa.JSON(), nullable=False),
        sa.Column("disabled_at", MOMENT),
        sa.Column("disabled_because", sa.String()),
        sa.Column("succeeded_at", MOMENT),
        unique("webhook", "fleet_id", "external_ref"),
    )
    index("webhook", "fleet_id")
    op.create_table(
        "webhook_event",
        *owned("webhook_event"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
    )
    index("webhook_event", "fleet_id")
    index("webhook_event", "created_at")
    _deliveries()
    op.create_table(
        "due_soon_told",
        *owned("due_soon_told"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("due_likely", sa.Date(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
    )
    index("due_soon_told", "fleet_id")
    index("due_soon_told", "fleet_id", "vehicle_id")


def _deliveries() -> None:
    op.create_table(
        "webhook_delivery",
        *owned("webhook_delivery"),
        sa.Column("webhook_id", sa.String(), nullable=False),
        sa.Column("event_id", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("job_id", sa.String()),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("status", sa.Integer()),
        sa.Column("problem", sa.String()),
        sa.Column("next_try_at", MOMENT),
        sa.Column("delivered_at", MOMENT),
        reference("webhook_delivery", "webhook_id", "webhook"),
        reference("webhook_delivery", "event_id", "webhook_event"),
        unique("webhook_delivery", "webhook_id", "event_id"),
    )
    index("webhook_delivery", "fleet_id")
    index("webhook_delivery", "event_id")
    index("webhook_delivery", "next_try_at")
    index("webhook_delivery", "webhook_id", "created_at", "id")


def downgrade() -> None:
    """Step back."""
    for name in ("due_soon_told", "webhook_delivery", "webhook_event", "webhook"):
        op.drop_table(name)
