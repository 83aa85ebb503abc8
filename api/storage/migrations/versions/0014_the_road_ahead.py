"""Tours and lay-ups ahead, the day a car is to be sold, a fleet's discount rate, what checking a kind costs and finds.

Revision 0014, follows 0013.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned, reference

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

CHECKING = ("check_cost", "delay_share", "check_sensitivity")


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "planned_use",
        *owned("planned_use"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("what", sa.String(), nullable=False),
        sa.Column("starts_on", sa.Date(), nullable=False),
        sa.Column("ends_on", sa.Date(), nullable=False),
        sa.Column("distance_value", sa.Float()),
        sa.Column("distance_unit", sa.String()),
        sa.Column("name", sa.String()),
        reference("planned_use", "vehicle_id", "vehicle"),
    )
    index("planned_use", "fleet_id")
    index("planned_use", "vehicle_id", "starts_on")
    op.add_column("vehicle", sa.Column("sell_on", sa.Date()))
    op.add_column("fleet", sa.Column("discount_rate", sa.Float(), nullable=False, server_default="0"))
    for name in CHECKING:
        op.add_column("kind_settings", sa.Column(name, sa.Float()))


def downgrade() -> None:
    """Step back."""
    for name in reversed(CHECKING):
        op.drop_column("kind_settings", name)
    op.drop_column("fleet", "discount_rate")
    op.drop_column("vehicle", "sell_on")
    op.drop_table("planned_use")
