"""Checks as they were when they were made: each step holds a copy, so that no later change moves a case."""

from __future__ import annotations

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
    "caution",
)


def copy_of(check: Check) -> dict[str, Any]:
    """What a step keeps of its check."""
    lists = {"targets": list(check.targets), "systems": list(check.systems)}
    return {name: getattr(check, name) for name in _PLAIN} | lists


def made(row: Row) -> dict[str, Check]:
    """The checks of a case's steps by name, each as it was when it was first made there.

    A step from before copies were kept holds none: its check was the book's.
    """
    found: dict[str, Check] = {}
    for step in row.steps:
        if "check" in step:
            name = step["check"]
            kept = step.get("as_it_was")
            found.setdefault(name, load_checks()[name] if kept is None else _check(kept))
    return found


def _check(kept: dict[str, Any]) -> Check:
    figures: dict[str, Any] = {name: kept[name] for name in _PLAIN if name in kept}
    lists: dict[str, Any] = {name: tuple(kept.get(name, ())) for name in ("targets", "systems")}
    return Check(**figures, **lists)
