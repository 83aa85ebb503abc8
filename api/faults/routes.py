"""HTTP for fault-findings."""

from fastapi import APIRouter, Response, status

from api.conventions import IfMatch, RecordsAsked, page_of, require_match, send_tag
from api.faults import answers, closing, service, steps, store
from api.faults.schemas import ClosingCreate, FaultFindingCreate, StepCreate
from api.faults.shown import FaultFindingItem, FaultFindingOut, NextStepOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.vehicles.service import found
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1", tags=["which part is it"], route_class=OnceRoute)

CREATED = status.HTTP_201_CREATED


@router.post("/vehicles/{vehicle_id}/fault-findings", status_code=CREATED)
def create_fault_finding(
    vehicle_id: str, body: FaultFindingCreate, who: Writer, session: WriteSession, response: Response
) -> FaultFindingOut:
    """Open a case: every part on the car that can be behind the complaint, as odds, from the book and its own history."""
    row = service.open_finding(session, who, vehicle_id, body)
    response.headers["Location"] = f"/v1/fault-findings/{row.id}"
    send_tag(response, row)
    return service.shown(session, row)


@router.get("/vehicles/{vehicle_id}/fault-findings")
def list_fault_findings(
    vehicle_id: str, who: Reader, session: ReadSession, asked: RecordsAsked
) -> Page[FaultFindingItem]:
    """One car's cases in the order in which they were opened, without their suspects."""
    found(session, who.fleet_id, vehicle_id)
    rows = page_of(session, store.findings_of(who.fleet_id, vehicle_id), asked)
    return Page(items=[answers.item(row) for row in rows])


@router.get("/fault-findings/{finding_id}")
def read_fault_finding(
    finding_id: str, who: Reader, session: ReadSession, response: Response
) -> FaultFindingOut:
    """One case with its suspects as they stand after its steps."""
    row = service.found(session, who, finding_id)
    send_tag(response, row)
    return service.shown(session, row)


@router.get("/fault-findings/{finding_id}/next-step")
def read_next_step(finding_id: str, who: Reader, session: ReadSession) -> NextStepOut:
    """What to do next: the cheapest expected way to the cure, what each result would do, and whether to buy yet."""
    return service.next_step(session, who, finding_id)


@router.post("/fault-findings/{finding_id}/steps", status_code=CREATED)
def create_fault_finding_step(
    finding_id: str, body: StepCreate, who: Writer, session: WriteSession, response: Response
) -> FaultFindingOut:
    """Add a check with its outcome, or parts renewed with whether that cured it; the suspects are ranked anew.

    After a renewal that cured, close the case; a further step says that the complaint came back.
    """
    row = steps.add_step(session, who, finding_id, body)
    response.headers["Location"] = f"/v1/fault-findings/{row.id}"
    send_tag(response, row)
    return service.shown(session, row)


@router.delete("/fault-findings/{finding_id}/steps/last")
def delete_last_fault_finding_step(
    finding_id: str, who: Writer, session: WriteSession, response: Response, if_match: IfMatch = None
) -> FaultFindingOut:
    """Take back the last step of an open case, and show the case without it. Needs If-Match, so that no other step goes.

    A step writes into no part's history before the case is closed, so nothing else has to be undone.
    """
    row = service.held_open(session, who, finding_id)
    require_match(if_match, row)
    steps.take_back_last(session, row)
    send_tag(response, row)
    return service.shown(session, row)


@router.post("/fault-findings/{finding_id}/closing", status_code=CREATED)
def create_fault_finding_closing(
    finding_id: str, body: ClosingCreate, who: Writer, session: WriteSession, response: Response
) -> FaultFindingOut:
    """Close a case. Each part taken out gets its removal, as evidence of what the case showed, and the car is re-planned.

    In each place left empty a new part of the same kind is written down, fitted on that day; or none, if you say so.
    """
    row = closing.close(session, who, finding_id, body)
    response.headers["Location"] = f"/v1/fault-findings/{row.id}"
    send_tag(response, row)
    return service.shown(session, row)
