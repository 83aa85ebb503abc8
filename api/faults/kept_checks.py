"""Checks as they were when they were made: each step holds a copy, so that no later change moves a case."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from planner.catalogue import Check, load_checks

if TYPE_CHECKING:
    from api.storage.tables import FaultFinding as Row

_PLAIN = (
    "id",
    "name",
    "sensitivity",
    "specificity",
    "minutes",
    "money",
    "needs_fault_present",
    "needs_running",
    "needs_dead",
    "shows_where",
    "caution",
)
_LISTS = ("targets", "systems", "not_with")


def copy_of(check: Check) -> dict[str, Any]:
    """What a step keeps of its check."""
    lists = {name: list(getattr(check, name)) for name in _LISTS}
    return {name: getattr(check, name) for name in _PLAIN} | lists


def made(row: Row) -> dict[str, Check]:
    """The checks of a case's steps by name, each as it was when it was first made there.

    A step from before copies were kept holds none: its check was the book's, from before there were complaints to leave it out at
    and checks of several kinds that show where.
    """
    found: dict[str, Check] = {}
    for step in row.steps:
        if "check" in step:
            name = step["check"]
            kept = step.get("as_it_was")
            found.setdefault(name, _of_the_book(name) if kept is None else _check(kept))
    return found


def _of_the_book(name: str) -> Check:
    return replace(load_checks()[name], shows_where=False, not_with=())


def _check(kept: dict[str, Any]) -> Check:
    figures: dict[str, Any] = {name: kept[name] for name in _PLAIN if name in kept}
    lists: dict[str, Any] = {name: tuple(kept.get(name, ())) for name in _LISTS}
    return Check(**figures, **lists)
