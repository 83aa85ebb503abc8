"""What was known on a past day: later records are not there, nor later odometer readings, nor cars that came later.

A record counts as known from its own day (the likely one where it is rough), for when it was written down says nothing: years of
old papers come in with one import. A car's papers are known from the day it joined.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from planner.history.part_history import PartHistory


def known_on(history: PartHistory, day: date) -> PartHistory | None:
    """A part's history as it was known on a day; None where the part, or its car, was not there yet."""
    joined, fitted = history.vehicle.joined_on, history.fitment.fitted_on
    if joined is not None and joined > day:
        return None
    since = fitted.likely if fitted is not None else joined or _first_look(history)
    if since is None or since > day:
        return None
    removal = history.removal
    return replace(
        history,
        inspections=tuple(look for look in history.inspections if look.inspected_on <= day),
        repairs=tuple(repair for repair in history.repairs if repair.repaired_on <= day),
        removal=None if removal is None or removal.removed_on.likely > day else removal,
        track=None if history.track is None else history.track.until(day),
        next_fitted=None
        if history.next_fitted is None or history.next_fitted.likely > day
        else history.next_fitted,
    )


def _first_look(history: PartHistory) -> date | None:
    days = [look.inspected_on for look in history.inspections]
    days += [repair.repaired_on for repair in history.repairs]
    return min(days, default=None)
