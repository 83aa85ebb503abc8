"""Circumstances of cars, and lives and forecasts that stand in them.

Revision 0018, follows 0017.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import index

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

CURRENT = "uq_life_model_current"


def upgrade() -> None:
    """Step forward."""
    op.add_column("vehicle", sa.Column("circumstances", sa.JSON(), nullable=False, server_default="[]"))
    for table in ("life_model", "forecast"):
        op.add_column(table, sa.Column("circumstances", sa.String(), nullable=False, server_default=""))
    _one_current("fleet_id", "kind", "circumstances")
    _found_by("fleet_id", "kind", "circumstances")


def downgrade() -> None:
    """Step back; forecasts in circumstances lose their life and are made anew when their cars are next re-planned."""
    op.execute("UPDATE forecast SET model_id = NULL WHERE circumstances <> ''")
    op.execute("DELETE FROM life_model WHERE circumstances <> ''")
    _one_current("fleet_id", "kind")
    _found_by("fleet_id", "kind")
    for table in ("forecast", "life_model", "vehicle"):
        op.drop_column(table, "circumstances")


def _found_by(*columns: str) -> None:
    """Let forecasts of a kind be found by some columns, and by none beside."""
    (old,) = {("fleet_id", "kind"), ("fleet_id", "kind", "circumstances")} - {columns}
    op.drop_index(f"ix_forecast_{'_'.join(old)}", table_name="forecast")
    index("forecast", *columns)


def _one_current(*columns: str) -> None:
    """Let one life be current for each value of some columns."""
    op.drop_index(CURRENT, table_name="life_model")
    current = sa.text("current")
    op.create_index(
        CURRENT, "life_model", list(columns), unique=True, sqlite_where=current, postgresql_where=current
    )
