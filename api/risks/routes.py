"""HTTP for chances on the road."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query

from api.risks import service
from api.risks.schemas import VehicleRisk
from api.schemas import CalendarDate
from api.security import Reader
from api.storage.session import ReadSession
from api.vehicles.service import found
from api.web.once import OnceRoute
from planner.units import DistanceUnit

router = APIRouter(prefix="/v1/vehicles", tags=["risk"], route_class=OnceRoute)


@router.get("/{vehicle_id}/risk")
def read_risk(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    as_of: Annotated[
        CalendarDate | None,
        Query(
            ge=date(1900, 1, 1),
            le=date(2150, 1, 1),
            description="first day; default: today where the fleet is",
        ),
    ] = None,
    days: Annotated[int, Query(ge=1, le=3660, description="how many days ahead")] = 30,
    distance: Annotated[
        float | None,
        Query(ge=0, le=1_000_000, description="how far; default: as far as the car is usually driven"),
    ] = None,
    unit: Annotated[DistanceUnit | None, Query(description="of the distance; default: the car's")] = None,
) -> VehicleRisk:
    """The chance that one of a car's parts stops it over the days and the distance ahead, given that all are good now."""
    vehicle = found(session, who.fleet_id, vehicle_id)
    ahead = service.Ahead(as_of or who.today(), days, distance, unit)
    return service.vehicle_risk(session, vehicle, ahead, who.currency)
