"""HTTP for parts that move from one car to another."""

from fastapi import APIRouter, Depends, Request, status

from api.bridge.in_force.ready import Coming, ready_for_cars
from api.history.answers import fitment_out
from api.moved_parts import service
from api.moved_parts.brought import WORDS
from api.moved_parts.schemas import MovedPart, MovedPartsCreate, MovedPartsOut
from api.security import Writer, principal_of
from api.storage.session import WriteSession, database_of
from api.web.once import OnceRoute


def both_ready(request: Request, vehicle_id: str, body: MovedPartsCreate) -> None:
    """Make ready what both cars need, before the transaction opens."""
    fleet_id = principal_of(request).fleet_id
    ready_for_cars(database_of(request), fleet_id, [vehicle_id, body.from_vehicle_id])
    ready_for_cars(database_of(request), fleet_id, [body.from_vehicle_id], Coming(onto=vehicle_id))


router = APIRouter(prefix="/v1/vehicles", tags=["history"], route_class=OnceRoute)


@router.post(
    "/{vehicle_id}/moved-parts", status_code=status.HTTP_201_CREATED, dependencies=[Depends(both_ready)]
)
def create_moved_parts(
    vehicle_id: str, body: MovedPartsCreate, who: Writer, session: WriteSession
) -> MovedPartsOut:
    """Write down that parts went from another car into this one: with an engine, a gearbox, an axle.

    Each comes off the other car still good and goes on here as second-hand, with the distance and the age that it has reached.
    """
    moved, taken_off = service.move(session, who, vehicle_id, body)
    return MovedPartsOut(
        moved=[MovedPart(from_fitment_id=before, fitment=fitment_out(row)) for before, row in moved],
        taken_off=taken_off,
        words=WORDS,
    )
