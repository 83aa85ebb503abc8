"""Keepers' decisions to put work off, applied to what is due: the day moves within limits, the reason stays in sight."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.bridge import store
from planner.schedule import Snooze, put_off

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.forecasts.outlook import Outlook
    from api.storage.tables import PutOff
    from planner.schedule import DueWindow

FOUND_BAD = (
    "It was found {found} on {day}: putting it off does not mend it, and the car should not be driven so."
)


@dataclass(frozen=True)
class Decided:
    """A keeper's decision about one part, seen from one day.

    Attributes:
        row: the decision.
        window: the part's window, put off as far as its limits allow.
        accepted: the reason, to be shown as accepted risk.
        warning: what stands in the way; empty if nothing does.
    """

    row: PutOff
    window: DueWindow
    accepted: str
    warning: str


def snooze_of(row: PutOff) -> Snooze:
    """The decision as the planner sees it."""
    return Snooze(row.until, row.reason, row.decided_on)


def decided(session: Session, fleet_id: str, parts: Sequence[Outlook], as_of: date) -> dict[str, Decided]:
    """The decisions about parts in service, by fitment id; parts without one are not in it."""
    rows = store.put_offs(session, fleet_id, [one.row.fitment_id for one in parts])
    by_id = {one.row.fitment_id: one for one in parts}
    return {row.fitment_id: seen(row, by_id[row.fitment_id], as_of) for row in rows}


def seen(row: PutOff, one: Outlook, as_of: date) -> Decided:
    """One decision seen from a day; a part found worn or failed stays due whatever was decided."""
    snoozed = put_off(one.window, snooze_of(row), as_of)
    bad = one.kept.since.found_bad
    if bad is None:
        return Decided(row, snoozed.window, snoozed.accepted, snoozed.warning)
    found = "worn to its limit" if one.kept.since.finding == "worn to limit" else "failed"
    return Decided(row, one.window, snoozed.accepted, FOUND_BAD.format(found=found, day=bad.isoformat()))
