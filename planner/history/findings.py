"""Findings of looks that contradict each other: what had failed is not good again without a repair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.errors import RecordError

if TYPE_CHECKING:
    from planner.history.part_history import Event, Timeline

_IN_ORDER = ("good", "near limit")


def refuse_failure_undone(line: Timeline) -> None:
    """Refuse a part found failed and, on a later day with no repair between, found in order.

    Either finding may be the wrong one, so the part's life can't be told. What happened on one day has no sure order: a repair
    counts as between on either day, and two looks of one day are let be.

    Args:
        line: a part's events in order.

    Raises:
        RecordError: `inspections[i].finding` of the later look.
    """
    repaired = [look.on.likely for look in line.looks if look.what == "repaired"]
    failed: Event | None = None
    for look in line.looks:
        if failed is not None and any(failed.on.likely <= day <= look.on.likely for day in repaired):
            failed = None
        if look.finding == "failed":
            failed = look
        elif failed is not None and look.finding in _IN_ORDER and look.on.likely > failed.on.likely:
            wanted = f"failed, as on {failed.on}, or a repair recorded between (or a removal, and the new part's fitting)"
            raise RecordError(f"{look.field}.finding", wanted, f"{look.finding} on {look.on}")
