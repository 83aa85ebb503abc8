"""The book's complaints and checks with a fleet's own beside them; own ones have names that the book does not use."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from api.faults import store
from api.problems import Conflict, Malformed
from api.storage.tables import OwnCheck, OwnComplaint
from planner.catalogue import (
    load_checks,
    load_complaints,
    own_check,
    own_complaint,
)
from planner.errors import CatalogueError

MadeT = TypeVar("MadeT")

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from sqlmodel import Session

    from api.faults.schemas import CheckCreate, ComplaintCreate
    from api.security import Principal
    from api.storage.tables import FaultFinding as Row
    from planner.catalogue import Check, Complaint


def complaint(session: Session, fleet_id: str, name: str) -> tuple[Complaint, dict[str, Any] | None]:
    """A complaint of the book or the fleet's own, and the fields of an own one.

    Raises:
        Conflict: neither knows it.
    """
    if name in load_complaints():
        return load_complaints()[name], None
    row = store.own_named(session, OwnComplaint, fleet_id, name)
    if row is None:
        raise Conflict("neither the book nor the fleet knows it: see GET /v1/complaints", field="complaint")
    return own_complaint(name, row.content), row.content


def complaint_of(row: Row) -> Complaint:
    """The complaint of a case, as it was when the case was opened."""
    own = row.opened_with["own_complaint"]
    return load_complaints()[row.complaint] if own is None else own_complaint(row.complaint, own)


def complaints(session: Session, fleet_id: str) -> list[tuple[Complaint, bool]]:
    """The fleet's own complaints (True), then the book's."""
    rows = store.own(session, OwnComplaint, fleet_id)
    own = [(own_complaint(row.name, row.content), True) for row in rows]
    return [*own, *((one, False) for one in load_complaints().values())]


def checks(session: Session, fleet_id: str) -> Mapping[str, Check]:
    """Every check by name: the book's and the fleet's own."""
    own = store.own(session, OwnCheck, fleet_id)
    return {**load_checks(), **{row.name: own_check(row.name, row.content) for row in own}}


def add_complaint(session: Session, who: Principal, body: ComplaintCreate) -> Complaint:
    """Add a complaint to the fleet's own.

    Raises:
        Malformed: a part kind or a condition that the catalogue does not hold.
        Conflict: the name is taken.
    """
    fields = body.model_dump(exclude={"id"}, exclude_none=True)
    made = _made(own_complaint, body.id, fields)
    _refuse_taken(body.id, load_complaints(), store.own_named(session, OwnComplaint, who.fleet_id, body.id))
    session.add(OwnComplaint(fleet_id=who.fleet_id, name=body.id, content=fields))
    session.flush()
    return made


def add_check(session: Session, who: Principal, body: CheckCreate) -> Check:
    """Add a check to the fleet's own; errors as `add_complaint`, and figures that tell nothing."""
    fields = body.model_dump(exclude={"id"}, exclude_none=True)
    made = _made(own_check, body.id, fields)
    _refuse_taken(body.id, load_checks(), store.own_named(session, OwnCheck, who.fleet_id, body.id))
    session.add(OwnCheck(fleet_id=who.fleet_id, name=body.id, content=fields))
    session.flush()
    return made


def _made(make: Callable[[str, dict[str, Any]], MadeT], name: str, fields: dict[str, Any]) -> MadeT:
    """The catalogue's value; its refusal names the body's own field ("causes.0.kinds")."""
    try:
        return make(name, fields)
    except CatalogueError as error:
        place = error.field.removeprefix(f"{name}: ").replace("[", ".").replace("]", "").replace(": ", ".")
        raise Malformed(place, error.wanted, error.got) from error


def _refuse_taken(name: str, book: Mapping[str, object], own: object) -> None:
    if name in book:
        raise Conflict("the book uses this name: choose another", field="id")
    if own is not None:
        raise Conflict("the fleet uses this name already: choose another", field="id")
