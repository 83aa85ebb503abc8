"""Calendar entries as RFC 5545 text: the same bytes for the same entries."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from icalendar import Calendar, Event, vDuration, vText

if TYPE_CHECKING:
    from collections.abc import Iterable

    from api.calendar.entries import Entry

MEDIA_TYPE = "text/calendar; charset=utf-8"
_REFRESH = timedelta(hours=12)
_LONGEST = 2_000


def written(name: str, entries: Iterable[Entry]) -> bytes:
    """A calendar.

    Args:
        name: what the calendar is called.
        entries: what stands in it.
    """
    made = Calendar()
    made.add("PRODID", "-//wearwright//due work//EN")
    made.add("VERSION", "2.0")
    made.add("CALSCALE", "GREGORIAN")
    made.add("NAME", vText(in_one_line(name)))
    made.add("X-WR-CALNAME", vText(in_one_line(name)))
    made.add("REFRESH-INTERVAL", vDuration(_REFRESH), parameters={"VALUE": "DURATION"})
    for entry in entries:
        made.add_component(_event(entry))
    return bytes(made.to_ical())


def _event(entry: Entry) -> Event:
    made = Event()
    made.add("UID", entry.uid)
    made.add("DTSTAMP", entry.revised_at)
    made.add("CREATED", entry.created_at)
    made.add("LAST-MODIFIED", entry.revised_at)
    made.add("SEQUENCE", entry.sequence)
    made.add("DTSTART", entry.day)
    made.add("DTEND", entry.day + timedelta(days=1))
    made.add("SUMMARY", in_one_line(entry.summary))
    made.add("DESCRIPTION", plain(entry.description))
    made.add("STATUS", "CANCELLED" if entry.cancelled else "CONFIRMED")
    made.add("TRANSP", "TRANSPARENT")
    return made


def plain(text: str) -> str:
    """Text without control characters other than line breaks, which RFC 5545 §3.1 has no place for."""
    kept = "".join(sign for sign in text.replace("\r", "\n") if sign == "\n" or sign.isprintable())
    return kept if len(kept) <= _LONGEST else kept[: _LONGEST - 1] + "…"


def in_one_line(text: str) -> str:
    """Text without control characters and line breaks."""
    return " ".join(plain(text).split())
