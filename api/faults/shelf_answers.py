"""Complaints and checks as answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.faults.shelf_shown import CheckOut, ComplaintOut

if TYPE_CHECKING:
    from api.faults.shelf import Shelved
    from planner.catalogue import Check, Complaint, Provenance


def complaint(shelved: Shelved[Complaint]) -> ComplaintOut:
    """A complaint as it holds in a fleet."""
    one = shelved.thing
    plain = {name: getattr(one, name) for name in ("id", "title", "stop_driving", "engine_dead", "warning")}
    rows = {name: list(getattr(one, name)) for name in ("conditions", "causes", "others")}
    source = {"basis": one.provenance.basis, "source": _own_note(shelved) or one.provenance.text}
    return ComplaintOut.model_validate({**plain, **rows, **source, **_standing(shelved)})


def check(shelved: Shelved[Check]) -> CheckOut:
    """A check as it holds in a fleet."""
    one = shelved.thing
    names = ("id", "name", "sensitivity", "specificity", "minutes", "money", "needs_fault_present", "caution")
    plain = {
        name: getattr(one, name) for name in (*names, "needs_running", "needs_dead", "shows_where", "note")
    }
    rows = {name: list(getattr(one, name)) for name in ("targets", "systems", "not_with")}
    whence = next(iter(_own_figures(shelved)), one.provenance["sensitivity"])
    return CheckOut.model_validate(
        {
            **plain,
            **rows,
            **_standing(shelved),
            "book": shelved.book if shelved.changed else None,
            "basis": whence.basis,
            "source": _own_note(shelved) or whence.text,
        }
    )


def _standing(shelved: Shelved[Complaint] | Shelved[Check]) -> dict[str, Any]:
    return {name: getattr(shelved, name) for name in ("own", "changed", "external_ref")}


def _own_note(shelved: Shelved[Complaint] | Shelved[Check]) -> str:
    """Where the fleet says that the figures of its own complaint or check come from; empty for the book's."""
    if not shelved.own or shelved.row is None:
        return ""
    return str(shelved.row.content.get("note") or "This fleet's own figures.")


def _own_figures(shelved: Shelved[Check]) -> list[Provenance]:
    """Provenance of the figures that the fleet put in place of the book's."""
    book, here = shelved.book, shelved.thing
    return [
        here.provenance[name]
        for name in ("sensitivity", "specificity", "minutes", "money")
        if book is not None and getattr(here, name) != getattr(book, name)
    ]
