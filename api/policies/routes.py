"""HTTP for ways of living with a part."""

from typing import Annotated

from fastapi import APIRouter, Query

from api.policies import service
from api.policies.schemas import PoliciesOut
from api.schedules.routes import AsOf
from api.security import Reader
from api.storage.session import ReadSession
from api.vehicles.service import found
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/vehicles", tags=["what comes due"], route_class=OnceRoute)


@router.get("/{vehicle_id}/policies")
def read_policies(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    fitment: Annotated[
        str | None,
        Query(max_length=64, description="id of a part in service on the car; default: all of them"),
    ] = None,
    as_of: AsOf = None,
) -> PoliciesOut:
    """Renew, check, run with a spare aboard or run without: what each costs a year on this car, the cheapest first.

    A hard cap or a risk limit forbids both ways of running to failure and checking alone, however cheap they look.
    """
    vehicle = found(session, who.fleet_id, vehicle_id)
    return service.policies(session, who, vehicle, fitment, as_of or who.today())
