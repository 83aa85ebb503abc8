"""Names of other systems for every kind of record that had none.

Revision 0016, follows 0015.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

TABLES = (
    *("api_key", "bulk_import", "calendar_address", "digest_subscription", "fault_finding"),
    *("own_check", "own_complaint", "planned_use", "put_off"),
)


def upgrade() -> None:
    """Step forward."""
    for name in TABLES:
        with op.batch_alter_table(name) as table:
            table.add_column(sa.Column("external_ref", sa.String()))
            table.create_unique_constraint(f"uq_{name}_fleet_id_external_ref", ["fleet_id", "external_ref"])


def downgrade() -> None:
    """Step back."""
    for name in reversed(TABLES):
        with op.batch_alter_table(name) as table:
            table.drop_constraint(f"uq_{name}_fleet_id_external_ref", type_="unique")
            table.drop_column("external_ref")
