"""What looking back on a kind gave.

Revision 0013, follows 0012.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index, owned, unique

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    op.create_table(
        "kind_backtest",
        *owned("kind_backtest"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        unique("kind_backtest", "fleet_id", "kind"),
    )
    index("kind_backtest", "fleet_id")


def downgrade() -> None:
    """Step back."""
    op.drop_table("kind_backtest")
