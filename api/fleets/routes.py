"""HTTP for the fleet itself."""

from fastapi import APIRouter, Response

from api.conventions import IfMatch, IfNoneMatch, require_match, send_tag, unless_held
from api.fleets import service
from api.fleets.schemas import FleetOut, FleetUpdate
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/fleet", tags=["fleet"], route_class=OnceRoute)


@router.get("")
def read_fleet(
    who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> FleetOut:
    """The fleet that the key belongs to."""
    row = service.found(session, who)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return FleetOut.model_validate(row)


@router.patch("")
def update_fleet(
    body: FleetUpdate, who: Writer, session: WriteSession, response: Response, if_match: IfMatch = None
) -> FleetOut:
    """Change how much costs of later years count; the jobs named bring all dates to it. Needs If-Match.

    A higher rate puts work off a little that only saves money later. It moves no hard cap and no risk limit.

    With `pooling` (an admin's choice) the fleet learns together with others that do: they get nothing of it but the
    parameters of a life that at least five fleets other than the one that asks speak for, and rounded counts; never a
    record, a car or a name. Whoever stops is left out of every refit from then on.
    """
    row = service.held(session, who)
    require_match(if_match, row)
    jobs = service.change(session, who, row, body)
    send_tag(response, row)
    plain = {name: getattr(row, name) for name in FleetOut.model_fields if name != "jobs"}
    return FleetOut.model_validate({**plain, "jobs": [f"/v1/jobs/{job.id}" for job in jobs]})
