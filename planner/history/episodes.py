"""One part's timeline cut into episodes: from when it was watched to its failure, its limit or the last good look."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.history.dates import UncertainDate
from planner.history.evidence import Counts, counts_as
from planner.history.part_history import Event

if TYPE_CHECKING:
    from datetime import date

    from planner.history.part_history import PartHistory, Timeline

FIRST_LOOK_DAYS = 90
"""A look this soon after a car came under its keeper's eyes is the looking over of a car just bought (judgement)."""

BEFORE_RECORDS = "its life ended, or it was last seen, before the records of the car begin"
AT_FIRST_LOOK = (
    "found at its limit when the car was first looked over, nobody knows how long after it was reached"
)

_BAD = ("worn to limit", "failed")
_SCHEDULED = ("preventive", "while there")
_AT_INSPECTION = Counts("found at its limit", 1.0, "found bad at an inspection")
_IN_SERVICE = Counts("still good", 0.0, "in service when last seen")
NEXT_FITTED = "no removal on record: taken as gone by the day the next was fitted"
_REPAIRED = Counts("still good", 0.0, "worked on in place while still good")
_NEAR_LIMIT = Counts("found at its limit", 1.0, "renewed after it was found near its limit: informative")


@dataclass(frozen=True)
class Episode:
    """A stretch of a part's life with one ending.

    Attributes:
        entry: when the part came under observation: its fitting, the car's joining, or a repair after it was found bad.
        good: last known good.
        end: first known bad, or the removal, or the last time it was seen.
        counts: what the ending is and what it weighs.
        cause: the reason in the keeper's words ("preventive", "in service", "found worn to limit").
        end_rate: the car's yearly distance around the end, in km; None where its readings do not tell.
    """

    entry: Event
    good: Event
    end: Event
    counts: Counts
    cause: str
    end_rate: float | None = None


def watched_from(history: PartHistory) -> date | None:
    """The first day on which a failure of the car's (or the assembly's) parts would have been written down; None: since the fitting."""
    if history.track is not None and history.track.watched_from is not None:
        return history.track.watched_from
    return history.vehicle.records_from or history.vehicle.joined_on


def episodes(history: PartHistory, line: Timeline, *, split: bool = False) -> list[Episode]:
    """Cut a part's life into episodes; those that ended before anybody kept records are left out.

    A part found bad and repaired in place goes on from the repair; cleaning, dressing and adjusting a good part end
    nothing: it is counted on as old as it was, never as new.

    Args:
        history: the part.
        line: its events placed.
        split: also end an episode (still good) at every repair, for clocks that repairs set back.
    """
    first = _entry(history, line)
    entry, good, found, spans = first, first, False, []
    for look in line.looks:
        if look.on.latest < first.on.likely:
            continue
        if look.what == "repaired":
            if split and not found:
                spans.append(Episode(entry, look, look, _REPAIRED, f"{look.action} in place"))
            if split or found:
                entry, found = look, False
            good = look
        elif look.finding not in _BAD:
            good = good if found else look
        elif not found:
            if not _stood_so_before(line, first, good, look):
                spans.append(Episode(entry, good, look, _AT_INSPECTION, f"found {look.finding}"))
            found = True
    if not found:
        spans += _last_episode(history, line, entry, good)
    return spans


def _stood_so_before(line: Timeline, entry: Event, good: Event, found: Event) -> bool:
    """Whether a part was found at its limit when the car was first looked over: nobody knows since when it was so.

    It is no failure of those few days, and parts that were found good then are counted given that they were: such a part gives no
    row (conditioning on good at the entry; Kalbfleisch & Lawless 1992).
    """
    late_entry = entry is not line.fitted and good is entry and entry.what == "inspected"
    return late_entry and (found.on.likely - entry.on.likely).days <= FIRST_LOOK_DAYS


def why_none(history: PartHistory, line: Timeline) -> str:
    """Why a part's life gave no episode."""
    end = line.removed or line.last_seen
    return BEFORE_RECORDS if end.on.latest < _entry(history, line).on.likely else AT_FIRST_LOOK


def _entry(history: PartHistory, line: Timeline) -> Event:
    since = watched_from(history)
    if since is None or line.fitted.on.likely >= since:
        return line.fitted
    return Event("vehicle.joined_on", UncertainDate.on(since), line.km_on(since), "inspected", finding="good")


def _last_episode(history: PartHistory, line: Timeline, entry: Event, good: Event) -> list[Episode]:
    end = line.removed or line.last_seen
    if end.on.latest < entry.on.likely:
        return []
    if history.removal is None:
        cause = "in service" if history.next_fitted is None else NEXT_FITTED
        return [Episode(entry, end, end, _IN_SERVICE, cause)]
    counts = counts_as(history.removal.reason, history.removal.cured, history.removal.changed_together)
    if counts.ending == "found at its limit" and _stood_so_before(line, entry, good, end):
        return []
    if history.removal.reason in _SCHEDULED and good.finding == "near limit":
        counts = _NEAR_LIMIT
    if counts.ending == "died standing":
        good = _last_run(line, entry, good, end)
    return [Episode(entry, good, end, counts, history.removal.reason, _rate_at(line, end.on.likely))]


def _rate_at(line: Timeline, day: date) -> float | None:
    if line.track is None or line.track.pace is None:
        return None
    return line.track.km_per_year_at(day)


def _last_run(line: Timeline, entry: Event, good: Event, end: Event) -> Event:
    """The last time the car is known to have run before it was found dead: its last reading or look before that day."""
    latest = max(entry, good, key=lambda event: event.on.likely)
    if line.track is None:
        return latest
    days = [point.on for point in line.track.points if latest.on.likely < point.on < end.on.earliest]
    return (
        Event("readings", UncertainDate.on(days[-1]), end.km, "inspected", finding="good") if days else latest
    )
