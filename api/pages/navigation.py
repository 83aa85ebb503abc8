"""The menu: which pages stand in it, in which order; other rooms put theirs in."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Entry:
    """One place in the menu."""

    label: str
    path: str


_entries = [Entry("What is due", "/pages"), Entry("Cars", "/pages/cars"), Entry("Part kinds", "/pages/kinds")]


def add(label: str, path: str) -> None:
    """Put a page in the menu, after the ones that are there; a second time changes nothing."""
    if all(entry.path != path for entry in _entries):
        _entries.append(Entry(label, path))


def entries() -> tuple[Entry, ...]:
    """The menu."""
    return tuple(_entries)
