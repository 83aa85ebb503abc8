"""Putting work off with a reason: kept, shown as accepted risk, and never past a hard cap without a warning."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.errors import UsageError
from planner.schedule.due import status_on

if TYPE_CHECKING:
    from datetime import date

    from planner.schedule.due import DueWindow


@dataclass(frozen=True)
class Snooze:
    """A keeper's decision to put work off, or to decline it.

    Attributes:
        until: the day to be asked again; None for declined.
        reason: why, in the keeper's words; not empty.
        decided_on: the day of the decision.

    Raises:
        UsageError: no reason, or a day before the decision.
    """

    until: date | None
    reason: str
    decided_on: date

    def __post_init__(self) -> None:
        if not self.reason.strip():
            raise UsageError("reason", "why the work is put off, in words", self.reason)
        if self.until is not None and self.until < self.decided_on:
            raise UsageError("until", f"a day from {self.decided_on} on", self.until)

    @property
    def accepted(self) -> str:
        """The decision as accepted risk, in a sentence."""
        what = "Declined" if self.until is None else "Put off"
        said = self.reason.strip()
        end = "" if said.endswith((".", "!", "?", "…")) else "."
        return f"{what} by the keeper on {self.decided_on}: {said}{end}"


@dataclass(frozen=True)
class Snoozed:
    """A due window after a keeper's decision.

    Attributes:
        window: the window, its likely day put off, but never past the hard cap or the risk limit.
        accepted: the keeper's reason, to be shown as accepted risk; empty where the decision changes nothing.
        warning: what stays to be said however often the work is put off; empty without a limit in the way.
    """

    window: DueWindow
    accepted: str
    warning: str


def put_off(window: DueWindow, snooze: Snooze, today: date) -> Snoozed:
    """Apply a keeper's decision to a due window, seen from today.

    A declined job keeps its window and is shown as accepted risk. A date moves only within what the hard cap (or the
    risk limit that decides) allows; beyond it the date stays at the limit and the warning stays with it.
    """
    accepted = snooze.accepted
    last = window.limit if window.decides != "risk limit" else _earlier(window.limit, window.latest)
    if window.likely is None:
        return Snoozed(window, accepted, "")
    if snooze.until is None:
        return Snoozed(window, accepted, _warning(last, window, today, declined=True))
    wanted = max(window.likely, snooze.until)
    allowed = wanted if last is None else min(wanted, max(last, today))
    latest = window.latest if window.latest is None else max(window.latest, allowed)
    moved = replace(window, likely=allowed, latest=latest, status=status_on(window.earliest, allowed, today))
    past = last is not None and snooze.until > last
    return Snoozed(moved, accepted, _warning(last, window, today, declined=False) if past else "")


def _earlier(one: date | None, other: date | None) -> date | None:
    days = [day for day in (one, other) if day is not None]
    return min(days, default=None)


def _warning(last: date | None, window: DueWindow, today: date, *, declined: bool) -> str:
    """A window's end that is past reads as today, so that only of a hard limit the day is known that it was reached on."""
    if last is None:
        return ""
    reached = f"was reached on {last}" if last == window.limit else "has been reached"
    when = reached if last <= today else f"is reached on {last}"
    what = "declining does not move it" if declined else "it cannot be put off past it"
    return f"The limit of this part {when}; {what}, and the car should not be driven past it."
