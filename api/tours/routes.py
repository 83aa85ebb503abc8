"""HTTP for tours."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import StringConstraints

from api.schemas import CalendarDate
from api.security import Reader
from api.storage.session import ReadSession
from api.tours import asking, service
from api.tours.schemas import TourRiskOut
from api.vehicles.service import found
from api.web.once import OnceRoute
from planner.units import DistanceUnit

router = APIRouter(prefix="/v1/vehicles", tags=["risk"], route_class=OnceRoute)

Renew = Annotated[
    list[Annotated[str, StringConstraints(max_length=2000, pattern=r"[^,\s]")]] | None,
    Query(
        max_length=3,
        description="a package of work: fitment ids or kinds with commas between; may come three times; "
        "default: packages that a mechanic would propose",
    ),
]


@router.get("/{vehicle_id}/tour-risk")
def read_tour_risk(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    distance: Annotated[
        float | None, Query(ge=0, le=100_000, description="of the tour; default: 1,000")
    ] = None,
    days: Annotated[
        int | None, Query(ge=1, le=366, description="of the tour, a year at most; default: 14")
    ] = None,
    starts_on: Annotated[
        CalendarDate | None,
        Query(
            ge=date(1900, 1, 1),
            le=date(2150, 1, 1),
            description="default: today where the fleet is; a tour that is over is refused",
        ),
    ] = None,
    planned_use: Annotated[
        str | None,
        Query(
            max_length=36,
            description="id of a tour stored for this car, in place of distance, days, starts_on and unit",
        ),
    ] = None,
    unit: Annotated[DistanceUnit | None, Query(description="of the distance; default: the car's")] = None,
    renew: Renew = None,
    bedded_in: Annotated[
        bool, Query(description="the new parts are run in, some 300 km, beforehand")
    ] = False,
) -> TourRiskOut:
    """What may stop a car on a tour, before and after up to three packages of work, and which spares to carry."""
    vehicle = found(session, who.fleet_id, vehicle_id)
    asked = asking.Asked(distance, days, starts_on, unit, planned_use)
    tour = asking.tour(session, who, vehicle_id, asked, tuple(renew or ()), bedded_in=bedded_in)
    return service.vehicle_tour(session, who, vehicle, tour)
