"""The book's complaints and checks as a fleet has them: its own beside them, its own figures in place of some of the book's.

What a fleet stored of a complaint of the book are its own weights, of a check of the book its own figures. What it
stored under a name that the book does not use is a complaint or check of its own, whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from api.faults import store
from api.problems import Conflict, NotFound
from api.storage.tables import OwnCheck, OwnComplaint
from planner.catalogue import (
    Check,
    Complaint,
    load_checks,
    load_complaints,
    own_check,
    own_complaint,
    with_own_weights,
    with_own_worth,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlmodel import Session

    from api.storage.tables import FaultFinding as Row

ThingT = TypeVar("ThingT", Complaint, Check)


@dataclass(frozen=True)
class Shelved(Generic[ThingT]):
    """A complaint or a check as one fleet has it.

    Attributes:
        thing: as it holds here.
        book: as the book has it; None where it is the fleet's own.
        row: what the fleet stored of it; None where it is the book's alone.
    """

    thing: ThingT
    book: ThingT | None
    row: OwnComplaint | OwnCheck | None

    @property
    def id(self) -> str:
        """Of the row, or the name where there is none; for the entity tag."""
        return self.thing.id if self.row is None else self.row.id

    @property
    def version(self) -> int:
        """Of the row; 0 where there is none."""
        return 0 if self.row is None else self.row.version

    @property
    def external_ref(self) -> str | None:
        """What another system calls it; None where it is the book's."""
        return None if self.row is None else self.row.external_ref

    @property
    def own(self) -> bool:
        """Whether it is the fleet's own."""
        return self.book is None

    @property
    def changed(self) -> bool:
        """Whether the fleet's figures stand in place of the book's."""
        return self.book is not None and self.row is not None


def complaint(session: Session, fleet_id: str, name: str) -> Shelved[Complaint]:
    """A complaint of the book or the fleet's own.

    Raises:
        NotFound: neither knows it.
    """
    row, book = store.own_named(session, OwnComplaint, fleet_id, name), load_complaints().get(name)
    if row is not None:
        return Shelved(complaint_from(name, row.content), _unless_whole(book, row), row)
    if book is None:
        raise NotFound("no such complaint: see GET /v1/complaints")
    return Shelved(book, book, None)


def check(session: Session, fleet_id: str, name: str) -> Shelved[Check]:
    """A check of the book or the fleet's own; errors as `complaint`."""
    row, book = store.own_named(session, OwnCheck, fleet_id, name), load_checks().get(name)
    if row is not None:
        return Shelved(check_from(name, row.content), _unless_whole(book, row), row)
    if book is None:
        raise NotFound("no such check: see GET /v1/checks")
    return Shelved(book, book, None)


def complained_of(session: Session, fleet_id: str, name: str) -> tuple[Complaint, dict[str, Any]]:
    """A complaint that a body names, and what a case on it keeps of what the fleet stored.

    Raises:
        Conflict: neither the book nor the fleet knows it.
    """
    try:
        found = complaint(session, fleet_id, name)
    except NotFound as error:
        unknown = "neither the book nor the fleet knows it: see GET /v1/complaints"
        raise Conflict(unknown, field="complaint") from error
    content = None if found.row is None else found.row.content
    return found.thing, {"own_complaint": content, "own_complaint_id": found.id if found.own else None}


def complaint_of(row: Row) -> Complaint:
    """The complaint of a case, as it was when the case was opened."""
    stored = row.opened_with["own_complaint"]
    return load_complaints()[row.complaint] if stored is None else complaint_from(row.complaint, stored)


def complaints(session: Session, fleet_id: str) -> list[Shelved[Complaint]]:
    """The fleet's own complaints, then the book's as the fleet has them."""
    rows = {row.name: row for row in store.own(session, OwnComplaint, fleet_id)}
    book = load_complaints()
    held = {
        name: Shelved(complaint_from(name, row.content), _unless_whole(book.get(name), row), row)
        for name, row in rows.items()
    }
    unchanged = {name: Shelved(one, one, None) for name, one in book.items()}
    return _own_first({**unchanged, **held})


def checks(session: Session, fleet_id: str) -> list[Shelved[Check]]:
    """The fleet's own checks, then the book's as the fleet has them."""
    rows = {row.name: row for row in store.own(session, OwnCheck, fleet_id)}
    book = load_checks()
    held = {
        name: Shelved(check_from(name, row.content), _unless_whole(book.get(name), row), row)
        for name, row in rows.items()
    }
    unchanged = {name: Shelved(one, one, None) for name, one in book.items()}
    return _own_first({**unchanged, **held})


def called(shelved: list[Shelved[ThingT]], external_ref: str | None) -> list[Shelved[ThingT]]:
    """Those that another system knows by a name; all where none is asked for."""
    return [one for one in shelved if external_ref in (None, one.external_ref)]


def checks_by_name(session: Session, fleet_id: str) -> Mapping[str, Check]:
    """Every check by name, as it holds in this fleet."""
    return {one.thing.id: one.thing for one in checks(session, fleet_id)}


def complaint_from(name: str, content: Mapping[str, Any]) -> Complaint:
    """A complaint from what a fleet stored of it."""
    return (
        own_complaint(name, content)
        if _whole(content)
        else with_own_weights(load_complaints()[name], content)
    )


def check_from(name: str, content: Mapping[str, Any]) -> Check:
    """A check from what a fleet stored of it."""
    return own_check(name, content) if _whole(content) else with_own_worth(load_checks()[name], content)


def _whole(content: Mapping[str, Any]) -> bool:
    """Whether it says everything, as of an own complaint or check; a complaint has a title, a check a name."""
    return "title" in content or "name" in content


def _unless_whole(book: ThingT | None, row: OwnComplaint | OwnCheck) -> ThingT | None:
    return None if _whole(row.content) else book


def _own_first(found: Mapping[str, Shelved[ThingT]]) -> list[Shelved[ThingT]]:
    return sorted(found.values(), key=lambda one: not one.own)
