"""Copies of own checks in the steps that used them, and by which own complaint a case was opened.

Revision 0010, follows 0009.
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

_FINDINGS = sa.table(
    "fault_finding",
    sa.column("id", sa.String()),
    sa.column("fleet_id", sa.String()),
    sa.column("complaint", sa.String()),
    sa.column("opened_with", sa.JSON()),
    sa.column("steps", sa.JSON()),
    sa.column("cause", sa.JSON()),
)


def upgrade() -> None:
    """Step forward."""
    bind = op.get_bind()
    checks, complaints = _own("own_check"), _own("own_complaint")
    for row in bind.execute(sa.select(_FINDINGS)).all():
        complaint_id, _ = complaints.get((row.fleet_id, row.complaint), (None, {}))
        steps = [_with_copy(step, row.fleet_id, checks) for step in row.steps]
        opened = {**row.opened_with, "own_complaint_id": complaint_id}
        cause = {**row.cause, "complaint_id": complaint_id} if row.cause else {}
        changed = sa.update(_FINDINGS).where(_FINDINGS.c.id == row.id)
        bind.execute(changed.values(steps=steps, opened_with=opened, cause=cause))


def downgrade() -> None:
    """Step back: the release before knows nothing of the additions and minds none."""


def _own(name: str) -> dict[tuple[str, str], tuple[str, dict[str, Any]]]:
    """Id and content of a fleet's own complaints or checks."""
    table = sa.table(
        name,
        sa.column("id", sa.String()),
        sa.column("fleet_id", sa.String()),
        sa.column("name", sa.String()),
        sa.column("content", sa.JSON()),
    )
    rows = op.get_bind().execute(sa.select(table)).all()
    return {(row.fleet_id, row.name): (row.id, row.content) for row in rows}


def _with_copy(
    step: dict[str, Any], fleet_id: str, checks: dict[tuple[str, str], tuple[str, dict[str, Any]]]
) -> dict[str, Any]:
    """A step with a copy of its own check; a check of the book needs none, nothing could change it so far."""
    own = checks.get((fleet_id, step.get("check", "")))
    return step if own is None else {**step, "as_it_was": {"id": step["check"], **own[1]}}
