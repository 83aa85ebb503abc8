"""HTTP for ways of living with a part."""

from typing import Annotated

from fastapi import APIRouter, Query

from api.once import OnceRoute
from api.policies import service
from api.policies.schemas import PoliciesOut
from api.problems import Malformed
from api.schedules.routes import AsOf
from api.security import Reader
from api.storage.session import ReadSession
from api.vehicles.service import found

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
    check_cost: Annotated[
        float | None,
        Query(
            ge=0.01,
            le=100_000,
            description="of one check of the part named by fitment; without it checking is not compared",
        ),
    ] = None,
    delay_share: Annotated[
        float, Query(ge=0.01, le=0.9, description="share of its life for which wear shows before it fails")
    ] = 0.1,
    sensitivity: Annotated[
        float, Query(ge=0.05, le=1, description="chance that a check finds wear that is there")
    ] = 0.8,
) -> PoliciesOut:
    """Renew, check, run with a spare aboard or run without: what each costs a year on this car, the cheapest first.

    A hard cap or a risk limit forbids both ways of running to failure and checking alone, however cheap they look.
    """
    if check_cost is not None and fitment is None:
        raise Malformed("fitment", "the part that is checked, where check_cost is given", None)
    vehicle = found(session, who.fleet_id, vehicle_id)
    check = None if check_cost is None else service.Check(check_cost, delay_share, sensitivity)
    return service.policies(session, who, vehicle, fitment, as_of or who.today(), check)
