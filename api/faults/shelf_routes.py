"""HTTP for complaints and checks: the book's, a fleet's own, and a fleet's own figures for the book's."""

from fastapi import APIRouter, Response, status

from api.conventions import IfMatch, RefAsked, entity_tag, require_match
from api.faults import shelf, shelf_answers, shelf_changes
from api.faults.shelf_schemas import CheckCreate, CheckUpdate, ComplaintCreate, ComplaintUpdate
from api.faults.shelf_shown import CheckOut, ComplaintOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute
from planner.catalogue import Check, Complaint

router = APIRouter(prefix="/v1", tags=["which part is it"], route_class=OnceRoute)

CREATED = status.HTTP_201_CREATED
EMPTY = status.HTTP_204_NO_CONTENT


@router.get("/complaints")
def list_complaints(who: Reader, session: ReadSession, external_ref: RefAsked = None) -> Page[ComplaintOut]:
    """The fleet's own complaints, then the book's, with the causes and their weights."""
    found = shelf.called(shelf.complaints(session, who.fleet_id), external_ref)
    return Page(items=[shelf_answers.complaint(one) for one in found])


@router.post("/complaints", status_code=CREATED)
def create_complaint(
    body: ComplaintCreate, who: Writer, session: WriteSession, response: Response
) -> ComplaintOut:
    """Add a complaint of the fleet's own beside the book's."""
    made = shelf_changes.add_complaint(session, who, body)
    response.headers["Location"] = f"/v1/complaints/{body.id}"
    return _complaint(made, response)


@router.get("/complaints/{complaint}")
def read_complaint(complaint: str, who: Reader, session: ReadSession, response: Response) -> ComplaintOut:
    """One complaint, as it holds in this fleet."""
    return _complaint(shelf.complaint(session, who.fleet_id, complaint), response)


@router.patch("/complaints/{complaint}")
def update_complaint(
    complaint: str,
    body: ComplaintUpdate,
    who: Writer,
    session: WriteSession,
    response: Response,
    if_match: IfMatch = None,
) -> ComplaintOut:
    """Change an own complaint, or weigh the causes of one of the book anew for this fleet. Needs If-Match.

    Cases that are open or closed stay as they were opened.
    """
    held = shelf_changes.held_complaint(session, who, complaint)
    require_match(if_match, held)
    return _complaint(shelf_changes.change_complaint(session, who, held, body), response)


@router.delete("/complaints/{complaint}", status_code=EMPTY)
def delete_complaint(complaint: str, who: Writer, session: WriteSession, if_match: IfMatch = None) -> None:
    """Take away an own complaint, or the fleet's weights, so that the book's hold again; If-Match is heeded where it is sent.

    Cases on it stay as they are; new ones cannot be opened on a complaint that is gone.
    """
    held = shelf_changes.held_complaint(session, who, complaint)
    if if_match is not None:
        require_match(if_match, held)
    shelf_changes.take_away(session, held)


@router.get("/checks")
def list_checks(who: Reader, session: ReadSession, external_ref: RefAsked = None) -> Page[CheckOut]:
    """The fleet's own checks, then the book's: what each looks at, how far it may be believed, what it costs."""
    found = shelf.called(shelf.checks(session, who.fleet_id), external_ref)
    return Page(items=[shelf_answers.check(one) for one in found])


@router.post("/checks", status_code=CREATED)
def create_check(body: CheckCreate, who: Writer, session: WriteSession, response: Response) -> CheckOut:
    """Add a check of the fleet's own beside the book's."""
    made = shelf_changes.add_check(session, who, body)
    response.headers["Location"] = f"/v1/checks/{body.id}"
    return _check(made, response)


@router.get("/checks/{check}")
def read_check(check: str, who: Reader, session: ReadSession, response: Response) -> CheckOut:
    """One check, as it holds in this fleet."""
    return _check(shelf.check(session, who.fleet_id, check), response)


@router.patch("/checks/{check}")
def update_check(
    check: str,
    body: CheckUpdate,
    who: Writer,
    session: WriteSession,
    response: Response,
    if_match: IfMatch = None,
) -> CheckOut:
    """Change an own check, or say what one of the book is worth in this fleet. Needs If-Match.

    Checks that were made already count as they did on the day.
    """
    held = shelf_changes.held_check(session, who, check)
    require_match(if_match, held)
    return _check(shelf_changes.change_check(session, who, held, body), response)


@router.delete("/checks/{check}", status_code=EMPTY)
def delete_check(check: str, who: Writer, session: WriteSession, if_match: IfMatch = None) -> None:
    """Take away an own check, or the fleet's figures, so that the book's hold again; If-Match is heeded where it is sent.

    Checks that were made already stay in their cases.
    """
    held = shelf_changes.held_check(session, who, check)
    if if_match is not None:
        require_match(if_match, held)
    shelf_changes.take_away(session, held)


def _complaint(one: shelf.Shelved[Complaint], response: Response) -> ComplaintOut:
    response.headers["ETag"] = entity_tag(one)
    return shelf_answers.complaint(one)


def _check(one: shelf.Shelved[Check], response: Response) -> CheckOut:
    response.headers["ETag"] = entity_tag(one)
    return shelf_answers.check(one)
