"""HTTP for cars."""

from fastapi import APIRouter, Depends, Response, status

from api.car_ready import car_ready, circumstances_ready
from api.conventions import IfMatch, IfNoneMatch, RecordsAsked, page_of, require_match, send_tag, unless_held
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.vehicles import service, store
from api.vehicles.schemas import VehicleCreate, VehicleOut, VehicleUpdate
from api.web.once import OnceRoute

router = APIRouter(
    prefix="/v1/vehicles", tags=["vehicles"], route_class=OnceRoute, dependencies=[Depends(car_ready)]
)


@router.post("", status_code=status.HTTP_201_CREATED)
def create_vehicle(body: VehicleCreate, who: Writer, session: WriteSession, response: Response) -> VehicleOut:
    """Register a car."""
    row = service.register(session, who, body)
    response.headers["Location"] = f"/v1/vehicles/{row.id}"
    send_tag(response, row)
    return VehicleOut.model_validate(row)


@router.get("")
def list_vehicles(who: Reader, session: ReadSession, asked: RecordsAsked) -> Page[VehicleOut]:
    """The fleet's cars, in the order in which they were registered."""
    rows = page_of(session, store.vehicles_of(who.fleet_id), asked)
    return Page(items=[VehicleOut.model_validate(row) for row in rows])


@router.get("/{vehicle_id}")
def read_vehicle(
    vehicle_id: str, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> VehicleOut:
    """One car."""
    row = service.found(session, who.fleet_id, vehicle_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return VehicleOut.model_validate(row)


@router.patch("/{vehicle_id}", dependencies=[Depends(circumstances_ready)])
def update_vehicle(
    vehicle_id: str,
    body: VehicleUpdate,
    who: Writer,
    session: WriteSession,
    response: Response,
    if_match: IfMatch = None,
) -> VehicleOut:
    """Change a car: a field left out stays, null empties it. Needs If-Match."""
    row = service.held(session, who.fleet_id, vehicle_id)
    require_match(if_match, row)
    service.change(session, who, row, body)
    send_tag(response, row)
    return VehicleOut.model_validate(row)


@router.delete("/{vehicle_id}", status_code=status.HTTP_204_NO_CONTENT)
def delete_vehicle(vehicle_id: str, who: Writer, session: WriteSession, if_match: IfMatch = None) -> None:
    """Delete a car with its whole history; If-Match is heeded where it is sent."""
    row = service.held(session, who.fleet_id, vehicle_id)
    if if_match is not None:
        require_match(if_match, row)
    service.remove(session, who, row)
