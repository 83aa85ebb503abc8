"""Records of the first release: fleets, cars, what happened to parts.

Revision 0001, the first.
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from api.storage.migrations.building import MOMENT, index, owned, reference, stamped, unique

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Step forward."""
    _fleet()
    _api_key()
    _vehicle()
    _fitment()
    _odometer_reading()
    _vehicle_usage()
    _inspection()
    _removal()
    _repair()


def downgrade() -> None:
    """Step back."""
    for table in (
        "repair",
        "removal",
        "inspection",
        "vehicle_usage",
        "odometer_reading",
        "fitment",
        "vehicle",
        "api_key",
        "fleet",
    ):
        op.drop_table(table)


def _fleet() -> None:
    op.create_table(
        "fleet",
        *stamped("fleet"),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("currency", sa.String(), nullable=False),
        unique("fleet", "name"),
    )


def _api_key() -> None:
    op.create_table(
        "api_key",
        *owned("api_key"),
        sa.Column("label", sa.String(), nullable=False),
        sa.Column("prefix", sa.String(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.Column("scope", sa.String(), nullable=False),
        sa.Column("expires_at", MOMENT),
        sa.Column("last_used_at", MOMENT),
        sa.Column("revoked_at", MOMENT),
        unique("api_key", "prefix"),
    )
    index("api_key", "fleet_id")


def _vehicle() -> None:
    op.create_table(
        "vehicle",
        *owned("vehicle"),
        sa.Column("external_ref", sa.String()),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("make", sa.String()),
        sa.Column("model", sa.String()),
        sa.Column("built", sa.String()),
        sa.Column("chassis_number", sa.String()),
        sa.Column("system", sa.String()),
        sa.Column("distance_unit", sa.String(), nullable=False),
        sa.Column("storage", sa.String()),
        sa.Column("joined_on", sa.Date()),
        sa.Column("notes", sa.String()),
        unique("vehicle", "fleet_id", "external_ref"),
    )
    index("vehicle", "fleet_id")
    index("vehicle", "fleet_id", "created_at", "id")


def _fitment() -> None:
    op.create_table(
        "fitment",
        *owned("fitment"),
        sa.Column("external_ref", sa.String()),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("position", sa.String(), nullable=False),
        sa.Column("fitted_on", sa.String()),
        sa.Column("fitted_earliest", sa.Date()),
        sa.Column("fitted_likely", sa.Date()),
        sa.Column("fitted_latest", sa.Date()),
        sa.Column("odometer_value", sa.Float()),
        sa.Column("odometer_unit", sa.String()),
        sa.Column("condition", sa.String(), nullable=False),
        sa.Column("donor_value", sa.Float()),
        sa.Column("donor_unit", sa.String()),
        sa.Column("donor_years", sa.Float()),
        sa.Column("grade", sa.String()),
        sa.Column("made_on", sa.String()),
        sa.Column("cap_value", sa.Float()),
        sa.Column("cap_unit", sa.String()),
        sa.Column("cap_years", sa.Float()),
        sa.Column("note", sa.String()),
        sa.Column("in_service", sa.Boolean(), nullable=False),
        reference("fitment", "vehicle_id", "vehicle"),
        unique("fitment", "fleet_id", "external_ref"),
    )
    index("fitment", "fleet_id")
    index("fitment", "fleet_id", "kind")
    index("fitment", "vehicle_id", "kind", "position")


def _odometer_reading() -> None:
    op.create_table(
        "odometer_reading",
        *owned("odometer_reading"),
        sa.Column("external_ref", sa.String()),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("read_on", sa.Date(), nullable=False),
        sa.Column("reading_value", sa.Float(), nullable=False),
        sa.Column("reading_unit", sa.String(), nullable=False),
        sa.Column("dial_digits", sa.Integer()),
        sa.Column("rollovers", sa.Integer()),
        sa.Column("new_instrument", sa.Boolean(), nullable=False),
        sa.Column("source", sa.String()),
        sa.Column("km_total", sa.Float(), nullable=False),
        reference("odometer_reading", "vehicle_id", "vehicle"),
        unique("odometer_reading", "fleet_id", "external_ref"),
    )
    index("odometer_reading", "fleet_id")
    index("odometer_reading", "vehicle_id", "read_on")


def _vehicle_usage() -> None:
    op.create_table(
        "vehicle_usage",
        *owned("vehicle_usage"),
        sa.Column("vehicle_id", sa.String(), nullable=False),
        sa.Column("km_per_year", sa.Float(), nullable=False),
        sa.Column("low", sa.Float(), nullable=False),
        sa.Column("high", sa.Float(), nullable=False),
        sa.Column("as_of", sa.Date(), nullable=False),
        sa.Column("km_at_as_of", sa.Float()),
        sa.Column("basis", sa.String(), nullable=False),
        reference("vehicle_usage", "vehicle_id", "vehicle"),
        unique("vehicle_usage", "vehicle_id"),
    )
    index("vehicle_usage", "fleet_id")


def _inspection() -> None:
    op.create_table(
        "inspection",
        *owned("inspection"),
        sa.Column("external_ref", sa.String()),
        sa.Column("fitment_id", sa.String(), nullable=False),
        sa.Column("inspected_on", sa.Date(), nullable=False),
        sa.Column("odometer_value", sa.Float()),
        sa.Column("odometer_unit", sa.String()),
        sa.Column("finding", sa.String(), nullable=False),
        sa.Column("measurement_value", sa.Float()),
        sa.Column("measurement_unit", sa.String()),
        sa.Column("measurement_limit", sa.Float()),
        sa.Column("note", sa.String()),
        reference("inspection", "fitment_id", "fitment"),
        unique("inspection", "fleet_id", "external_ref"),
    )
    index("inspection", "fitment_id")
    index("inspection", "fleet_id")


def _removal() -> None:
    op.create_table(
        "removal",
        *owned("removal"),
        sa.Column("external_ref", sa.String()),
        sa.Column("fitment_id", sa.String(), nullable=False),
        sa.Column("removed_on", sa.String(), nullable=False),
        sa.Column("removed_earliest", sa.Date(), nullable=False),
        sa.Column("removed_likely", sa.Date(), nullable=False),
        sa.Column("removed_latest", sa.Date(), nullable=False),
        sa.Column("odometer_value", sa.Float()),
        sa.Column("odometer_unit", sa.String()),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("cured", sa.Boolean()),
        sa.Column("changed_together", sa.Integer(), nullable=False),
        sa.Column("note", sa.String()),
        reference("removal", "fitment_id", "fitment"),
        unique("removal", "fitment_id"),
        unique("removal", "fleet_id", "external_ref"),
    )
    index("removal", "fleet_id")


def _repair() -> None:
    op.create_table(
        "repair",
        *owned("repair"),
        sa.Column("external_ref", sa.String()),
        sa.Column("fitment_id", sa.String(), nullable=False),
        sa.Column("repaired_on", sa.Date(), nullable=False),
        sa.Column("odometer_value", sa.Float()),
        sa.Column("odometer_unit", sa.String()),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("note", sa.String()),
        reference("repair", "fitment_id", "fitment"),
        unique("repair", "fleet_id", "external_ref"),
    )
    index("repair", "fitment_id")
    index("repair", "fleet_id")
