"""HTTP for rules of kinds."""

from typing import Annotated

from fastapi import APIRouter, Query, Response, status

from api.jobs import service as job_service
from api.jobs.schemas import JobOut
from api.part_kinds.service import found_kind
from api.rules import service
from api.rules.schemas import RuleOut
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute
from planner.units import DistanceUnit

router = APIRouter(prefix="/v1/part-kinds", tags=["part kinds"], route_class=OnceRoute)


@router.post("/{kind}/rules", status_code=status.HTTP_202_ACCEPTED)
def create_rule(kind: str, who: Writer, session: WriteSession, response: Response) -> JobOut:
    """Ask for the pair (so many km or so many years) that costs this fleet least as one rule for all its cars."""
    job = service.ask(session, who, found_kind(kind))
    response.headers["Location"] = f"/v1/jobs/{job.id}"
    return job_service.shown(job)


@router.get("/{kind}/rule")
def read_rule(
    kind: str,
    who: Reader,
    session: ReadSession,
    unit: Annotated[DistanceUnit, Query(description="unit of the distances in the answer")] = "km",
) -> RuleOut:
    """The rule for a kind as last worked out, and whether it still rests on what is in force."""
    return service.read(session, who, found_kind(kind), unit)
