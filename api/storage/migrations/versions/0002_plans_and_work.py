"""Plans and work of the first release: settings, lives, forecasts, jobs.

Revision 0002, follows 0001.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, unique

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    _worker()
    _idempotency_record()
    _job()
    _kind_settings()
    _life_model()
    _interval_table()
    _forecast()


def downgrade() -> None:
    """Step back."""
    for table in (
        "forecast",
        "interval_table",
        "life_model",
        "kind_settings",
        "job",
        "idempotency_record",
        "worker",
    ):
        op.drop_table(table)


def _worker() -> None:
    op.create_table(
        "worker",
        sa.Column("id", sa.String(), nullable=False),
        sa.Column("application_version", sa.String(), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("last_seen_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_worker"),
    )


def _idempotency_record() -> None:
    op.create_table(
        "idempotency_record",
        *owned("idempotency_record"),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("status_code", sa.Integer(), nullable=False),
        sa.Column("headers", sa.JSON(), nullable=False),
        sa.Column("body", sa.String(), nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        unique("idempotency_record", "fleet_id", "key"),
    )
    index("idempotency_record", "fleet_id")


def _job() -> None:
    op.create_table(
        "job",
        *owned("job"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("done", sa.Integer(), nullable=False),
        sa.Column("total", sa.Integer(), nullable=False),
        sa.Column("doing", sa.String(), nullable=False),
        sa.Column("payload", sa.JSON(), nullable=False),
        sa.Column("result", sa.JSON()),
        sa.Column("problem", sa.JSON()),
        sa.Column("started_at", MOMENT),
        sa.Column("finished_at", MOMENT),
        sa.Column("cancel_asked_at", MOMENT),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("worker_id", sa.String()),
    )
    index("job", "fleet_id")
    index("job", "fleet_id", "created_at", "id")


def _kind_settings() -> None:
    op.create_table(
        "kind_settings",
        *owned("kind_settings"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("prior", sa.String(), nullable=False),
        sa.Column("clocks", sa.JSON()),
        sa.Column("planned", sa.Float()),
        sa.Column("failure", sa.Float()),
        sa.Column("new_part_fault", sa.Float()),
        sa.Column("cap_value", sa.Float()),
        sa.Column("cap_unit", sa.String()),
        sa.Column("cap_years", sa.Float()),
        sa.Column("max_risk", sa.Float()),
        unique("kind_settings", "fleet_id", "kind"),
    )
    index("kind_settings", "fleet_id")


def _life_model() -> None:
    op.create_table(
        "life_model",
        *owned("life_model"),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("schema_number", sa.Integer(), nullable=False),
    )
    index("life_model", "fleet_id")
    current = sa.text("current")
    op.create_index(
        "uq_life_model_current",
        "life_model",
        ["fleet_id", "kind"],
        unique=True,
        sqlite_where=current,
        postgresql_where=current,
    )


def _interval_table() -> None:
    op.create_table(
        "interval_table",
        *owned("interval_table"),
        sa.Column("model_id", sa.String(), nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        reference("interval_table", "model_id", "life_model"),
        unique("interval_table", "model_id", "fingerprint"),
    )
    index("interval_table", "fleet_id")


def _forecast() -> None:
    op.create_table(
        "forecast",
        *owned("forecast"),
        sa.Column("fitment_id", sa.String(), nullable=False),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("model_id", sa.String()),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("due_earliest", sa.Date()),
        sa.Column("due_likely", sa.Date()),
        sa.Column("due_latest", sa.Date()),
        sa.Column("decides", sa.String(), nullable=False),
        sa.Column("run_to_failure", sa.Boolean(), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("coefficients", sa.JSON(), nullable=False),
        reference("forecast", "fitment_id", "fitment"),
        reference("forecast", "model_id", "life_model", "SET NULL"),
        reference("forecast", "vehicle_id", "vehicle"),
        unique("forecast", "fitment_id"),
    )
    index("forecast", "fleet_id")
    index("forecast", "fleet_id", "due_likely", "id")
    index("forecast", "fleet_id", "kind")
    index("forecast", "fleet_id", "vehicle_id")
    index("forecast", "model_id")
