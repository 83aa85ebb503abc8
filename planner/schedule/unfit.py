"""What a plan could not fit, in words: nothing is dropped silently, a safety item least of all."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from planner.schedule.visits import VisitPlan


def could_not_fit(
    grouping: VisitPlan, safety: Mapping[str, bool], limits: Mapping[str, date | None], gap: float
) -> tuple[tuple[str, str], ...]:
    """(part, what is in the way and what to do), safety parts first; the gap between visits last.

    Args:
        grouping: the visits.
        safety: by name of the part.
        limits: day of each part's hard cap, or None.
        gap: weeks asked for between visits.
    """
    found = [
        (name, _unplaced(limits.get(name), safety=safety.get(name, False))) for name in grouping.unplaced
    ]
    found += [
        (name, "It alone takes more than the hours or money of one visit: planned all the same.")
        for name in grouping.over_limits
    ]
    found.sort(key=lambda pair: not safety.get(pair[0], False))
    if not grouping.gap_kept:
        weeks = "a week" if gap == 1 else f"{gap:g} weeks"
        found.append(("visits", f"The parts' limits leave no way to keep {weeks} between visits."))
    return tuple(found)


def _unplaced(limit: date | None, *, safety: bool) -> str:
    when = (
        "No open week is left for it"
        if limit is None
        else f"No open week is left before its limit on {limit}"
    )
    if safety:
        return f"{when}: give it a day of its own before the next drive, or leave the car standing."
    return f"{when}: give it a day of its own."
