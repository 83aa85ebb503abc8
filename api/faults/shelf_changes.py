"""Adding, changing and taking away: a fleet's own complaints and checks, and its own figures for those of the book.

Cases keep copies of their complaint, from their opening, and of each check, from the step in which it was made. So a change
speaks to what comes after it, and what is taken away stays readable where it was used.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from api.external_refs import refuse_taken
from api.faults import shelf, store
from api.problems import Conflict, Malformed
from api.storage import dialect
from api.storage.tables import OwnCheck, OwnComplaint
from planner.catalogue import load_checks, load_complaints
from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping

    from sqlmodel import Session

    from api.faults.shelf import Shelved
    from api.faults.shelf_schemas import CheckCreate, CheckUpdate, ComplaintCreate, ComplaintUpdate
    from api.security import Principal
    from planner.catalogue import Check, Complaint

MadeT = TypeVar("MadeT")

COMPLAINT_FIGURES = ("causes", "others", "note")
"""What of a complaint of the book a fleet may say otherwise."""

CHECK_FIGURES = ("sensitivity", "specificity", "minutes", "money", "note")
"""What of a check of the book a fleet may say otherwise."""

_TOGETHER = {
    "sensitivity": {"sensitivity", "specificity"},
    "warning": {"warning", "stop_driving"},
    "needs_dead": {"needs_dead", "needs_running"},
}
"""Fields that are refused because of one another."""


def add_complaint(session: Session, who: Principal, body: ComplaintCreate) -> Shelved[Complaint]:
    """Add a complaint to the fleet's own.

    Raises:
        Malformed: a part kind or a condition that the catalogue does not hold.
        Conflict: the name or the ``external_ref`` is taken.
    """
    fields = body.model_dump(exclude={"id", "external_ref"}, exclude_none=True)
    _made(shelf.complaint_from, body.id, fields, fields)
    _refuse_taken(body.id, load_complaints(), store.own_named(session, OwnComplaint, who.fleet_id, body.id))
    refuse_taken(session, OwnComplaint, who.fleet_id, body.external_ref)
    row = OwnComplaint(fleet_id=who.fleet_id, name=body.id, external_ref=body.external_ref, content=fields)
    session.add(row)
    session.flush()
    return shelf.complaint(session, who.fleet_id, body.id)


def add_check(session: Session, who: Principal, body: CheckCreate) -> Shelved[Check]:
    """Add a check to the fleet's own; errors as `add_complaint`, and figures that tell nothing."""
    fields = body.model_dump(exclude={"id", "external_ref"}, exclude_none=True)
    _made(shelf.check_from, body.id, fields, fields)
    _refuse_taken(body.id, load_checks(), store.own_named(session, OwnCheck, who.fleet_id, body.id))
    refuse_taken(session, OwnCheck, who.fleet_id, body.external_ref)
    row = OwnCheck(fleet_id=who.fleet_id, name=body.id, external_ref=body.external_ref, content=fields)
    session.add(row)
    session.flush()
    return shelf.check(session, who.fleet_id, body.id)


def held_complaint(session: Session, who: Principal, name: str) -> Shelved[Complaint]:
    """A complaint that is to be changed, held until the transaction ends.

    Raises:
        NotFound: neither the book nor the fleet knows it.
    """
    dialect.wait_for_turn(session, f"complaint {who.fleet_id} {name}")
    return shelf.complaint(session, who.fleet_id, name)


def held_check(session: Session, who: Principal, name: str) -> Shelved[Check]:
    """A check that is to be changed, held until the transaction ends; errors as `held_complaint`."""
    dialect.wait_for_turn(session, f"check {who.fleet_id} {name}")
    return shelf.check(session, who.fleet_id, name)


def change_complaint(
    session: Session, who: Principal, held: Shelved[Complaint], body: ComplaintUpdate
) -> Shelved[Complaint]:
    """Change an own complaint, or weigh the causes of one of the book anew.

    Raises:
        Malformed: a part kind or a condition that the catalogue does not hold.
        Conflict: it is the book's, and more than the weights is named; it does not go with what is stored; or the
            ``external_ref`` is taken.
    """
    name, changes = held.thing.id, body.changes
    if not held.own:
        _refuse_the_books_own(changes, COMPLAINT_FIGURES, "its causes, others and note")
    content = _changed(held, changes)
    _made(shelf.complaint_from, name, content, changes)
    new = OwnComplaint(fleet_id=who.fleet_id, name=name, content=content)
    _keep(session, held, new, changes)
    return shelf.complaint(session, who.fleet_id, name)


def change_check(session: Session, who: Principal, held: Shelved[Check], body: CheckUpdate) -> Shelved[Check]:
    """Change an own check, or say what one of the book is worth here; errors as `change_complaint`."""
    name, changes = held.thing.id, body.changes
    if not held.own:
        worth = "its sensitivity, specificity, minutes, money and note"
        _refuse_the_books_own(changes, CHECK_FIGURES, worth)
    content = _changed(held, changes)
    _made(shelf.check_from, name, content, changes)
    new = OwnCheck(fleet_id=who.fleet_id, name=name, content=content)
    _keep(session, held, new, changes)
    return shelf.check(session, who.fleet_id, name)


def take_away(session: Session, held: Shelved[Complaint] | Shelved[Check]) -> None:
    """Take away what the fleet stored: its own complaint or check, or its figures, so that the book's hold again.

    Raises:
        Conflict: it is the book's, with the book's figures.
    """
    if held.row is None:
        raise Conflict(
            "it is the book's, with the book's figures: there is nothing of this fleet to take away"
        )
    session.delete(held.row)
    session.flush()


def _changed(held: Shelved[Complaint] | Shelved[Check], changes: Mapping[str, Any]) -> dict[str, Any]:
    stored = {} if held.row is None else held.row.content
    kept = {name: value for name, value in {**stored, **changes}.items() if value is not None}
    kept.pop("external_ref", None)
    return kept


def _keep(
    session: Session,
    held: Shelved[Complaint] | Shelved[Check],
    new: OwnComplaint | OwnCheck,
    changes: Mapping[str, Any],
) -> None:
    """Store the content, and another system's name for it, where something was named to change."""
    if not changes:
        return
    external_ref = changes.get("external_ref", held.external_ref)
    refuse_taken(session, type(new), new.fleet_id, external_ref, now=held.external_ref)
    row = new if held.row is None else held.row
    row.content, row.external_ref = new.content, external_ref
    session.add(row)
    session.flush()


def _made(
    make: Callable[[str, dict[str, Any]], MadeT], name: str, fields: dict[str, Any], named: Collection[str]
) -> MadeT:
    """The catalogue's value; its refusal names the body's own field ("causes.0.kinds").

    Raises:
        Malformed: the body alone is wrong.
        Conflict: what it names does not go with what is stored.
    """
    try:
        return make(name, fields)
    except CatalogueError as error:
        place = error.field.removeprefix(f"{name}: ").replace("[", ".").replace("]", "").replace(": ", ".")
        top = place.split(".", 1)[0]
        if _TOGETHER.get(top, {top}) <= set(named):
            raise Malformed(place, error.wanted, error.got) from error
        raise Conflict(f"{place}: wanted {error.wanted}, got {error.got}", field=place) from error


def _refuse_taken(name: str, book: Mapping[str, object], own: object) -> None:
    if name in book:
        raise Conflict("the book uses this name: choose another, or change the book's figures", field="id")
    if own is not None:
        raise Conflict("the fleet uses this name already: choose another", field="id")


def _refuse_the_books_own(changes: Mapping[str, Any], open_to_change: Collection[str], words: str) -> None:
    for name in changes:
        if name not in open_to_change:
            raise Conflict(f"it is the book's: only {words} can be changed", field=name)
