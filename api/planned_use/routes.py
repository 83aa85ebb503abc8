"""HTTP for tours and lay-ups ahead."""

from fastapi import APIRouter, Depends, Response, status

from api.car_ready import car_ready
from api.conventions import RecordsAsked, page_of
from api.planned_use import service, store
from api.planned_use.schemas import PlannedUseCreate, PlannedUseOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.vehicles.service import found
from api.web.once import OnceRoute

router = APIRouter(
    prefix="/v1/vehicles", tags=["what comes due"], route_class=OnceRoute, dependencies=[Depends(car_ready)]
)


@router.post("/{vehicle_id}/planned-use", status_code=status.HTTP_201_CREATED)
def create_planned_use(
    vehicle_id: str, body: PlannedUseCreate, who: Writer, session: WriteSession, response: Response
) -> PlannedUseOut:
    """Say that a car will go on a tour of so far, or be laid up; its windows, chances and tours follow.

    A lay-up never moves the day of a hard limit, as plans change; a tour may bring it nearer. Two plans share no day.
    """
    row = service.plan(session, who, vehicle_id, body)
    response.headers["Location"] = f"/v1/vehicles/{vehicle_id}/planned-use/{row.id}"
    return service.shown(row)


@router.get("/{vehicle_id}/planned-use")
def list_planned_use(
    vehicle_id: str, who: Reader, session: ReadSession, asked: RecordsAsked
) -> Page[PlannedUseOut]:
    """A car's tours and lay-ups, past ones included, by their first day."""
    found(session, who.fleet_id, vehicle_id)
    rows = page_of(session, store.planned_for(who.fleet_id, vehicle_id), asked)
    return Page(items=[service.shown(row) for row in rows])


@router.get("/{vehicle_id}/planned-use/{plan_id}")
def read_planned_use(vehicle_id: str, plan_id: str, who: Reader, session: ReadSession) -> PlannedUseOut:
    """One tour or lay-up."""
    return service.shown(service.one(session, who.fleet_id, vehicle_id, plan_id))


@router.delete("/{vehicle_id}/planned-use/{plan_id}", status_code=status.HTTP_204_NO_CONTENT)
def delete_planned_use(vehicle_id: str, plan_id: str, who: Writer, session: WriteSession) -> None:
    """Take a plan back: the car goes on as usual."""
    service.take_back(session, who, vehicle_id, plan_id)
