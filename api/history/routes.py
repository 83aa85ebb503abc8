"""HTTP for what happened to a car; the rooms' own addresses are `/v1/vehicles/…` and `/v1/fitments/…`."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response, status

from api.car_ready import car_ready, kind_ready
from api.conventions import RecordsAsked, page_of, send_tag
from api.history import answers, lookups, service, store
from api.history.schemas import (
    FitmentCreate,
    FitmentOut,
    InspectionCreate,
    InspectionOut,
    OdometerReadingCreate,
    OdometerReadingOut,
    RemovalCreate,
    RemovalOut,
    RepairCreate,
    RepairOut,
)
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.vehicles.service import found
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1", tags=["history"], route_class=OnceRoute, dependencies=[Depends(car_ready)])

CREATED = status.HTTP_201_CREATED
NO_CONTENT = status.HTTP_204_NO_CONTENT


@router.post("/vehicles/{vehicle_id}/odometer-readings", status_code=CREATED)
def create_odometer_reading(
    vehicle_id: str, body: OdometerReadingCreate, who: Writer, session: WriteSession, response: Response
) -> OdometerReadingOut:
    """Write down what the dial showed; miles, a dial that passed its end and a replaced instrument are made true."""
    row = service.add_reading(session, who, vehicle_id, body)
    response.headers["Location"] = f"/v1/vehicles/{vehicle_id}/odometer-readings/{row.id}"
    send_tag(response, row)
    return answers.reading_out(row)


@router.get("/vehicles/{vehicle_id}/odometer-readings")
def list_odometer_readings(
    vehicle_id: str, who: Reader, session: ReadSession, asked: RecordsAsked
) -> Page[OdometerReadingOut]:
    """One car's readings, by day."""
    found(session, who.fleet_id, vehicle_id)
    rows = page_of(session, store.readings_of(who.fleet_id, vehicle_id), asked)
    return Page(items=[answers.reading_out(row) for row in rows])


@router.get("/vehicles/{vehicle_id}/odometer-readings/{reading_id}")
def read_odometer_reading(
    vehicle_id: str, reading_id: str, who: Reader, session: ReadSession, response: Response
) -> OdometerReadingOut:
    """One reading."""
    row = lookups.found_reading(session, who.fleet_id, vehicle_id, reading_id)
    send_tag(response, row)
    return answers.reading_out(row)


@router.delete("/vehicles/{vehicle_id}/odometer-readings/{reading_id}", status_code=NO_CONTENT)
def delete_odometer_reading(vehicle_id: str, reading_id: str, who: Writer, session: WriteSession) -> None:
    """Take a reading back."""
    service.remove_reading(session, who, vehicle_id, reading_id)


@router.post("/vehicles/{vehicle_id}/fitments", status_code=CREATED, dependencies=[Depends(kind_ready)])
def create_fitment(
    vehicle_id: str, body: FitmentCreate, who: Writer, session: WriteSession, response: Response
) -> FitmentOut:
    """Write down that a part was fitted; its forecast is there at once."""
    row = service.add_fitment(session, who, vehicle_id, body)
    response.headers["Location"] = f"/v1/fitments/{row.id}"
    send_tag(response, row)
    return answers.fitment_out(row)


@router.get("/vehicles/{vehicle_id}/fitments")
def list_fitments(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    asked: RecordsAsked,
    in_service: Annotated[
        bool | None, Query(description="only parts on the car now, or only past ones")
    ] = None,
) -> Page[FitmentOut]:
    """One car's parts, past ones included, in the order in which they were entered."""
    found(session, who.fleet_id, vehicle_id)
    rows = page_of(session, store.fitments_of(who.fleet_id, vehicle_id, in_service=in_service), asked)
    return Page(items=[answers.fitment_out(row) for row in rows])


@router.get("/fitments/{fitment_id}")
def read_fitment(fitment_id: str, who: Reader, session: ReadSession, response: Response) -> FitmentOut:
    """One part in one position."""
    row = lookups.found_fitment(session, who.fleet_id, fitment_id)
    send_tag(response, row)
    return answers.fitment_out(row)


@router.delete("/fitments/{fitment_id}", status_code=NO_CONTENT)
def delete_fitment(fitment_id: str, who: Writer, session: WriteSession) -> None:
    """Delete a fitment written down by mistake, with its inspections, repairs and removal."""
    service.remove_fitment(session, who, fitment_id)


@router.post("/fitments/{fitment_id}/inspections", status_code=CREATED)
def create_inspection(
    fitment_id: str, body: InspectionCreate, who: Writer, session: WriteSession, response: Response
) -> InspectionOut:
    """Write down what somebody saw. A part found worn or failed is due from that day."""
    row = service.add_inspection(session, who, fitment_id, body)
    response.headers["Location"] = f"/v1/fitments/{fitment_id}/inspections/{row.id}"
    return answers.inspection_out(row)


@router.get("/fitments/{fitment_id}/inspections")
def list_inspections(
    fitment_id: str, who: Reader, session: ReadSession, asked: RecordsAsked
) -> Page[InspectionOut]:
    """Every look at a part, by day."""
    lookups.found_fitment(session, who.fleet_id, fitment_id)
    rows = page_of(session, store.inspections_of(who.fleet_id, fitment_id), asked)
    return Page(items=[answers.inspection_out(row) for row in rows])


@router.get("/fitments/{fitment_id}/inspections/{inspection_id}")
def read_inspection(fitment_id: str, inspection_id: str, who: Reader, session: ReadSession) -> InspectionOut:
    """One look at a part."""
    return answers.inspection_out(lookups.found_inspection(session, who.fleet_id, fitment_id, inspection_id))


@router.delete("/fitments/{fitment_id}/inspections/{inspection_id}", status_code=NO_CONTENT)
def delete_inspection(fitment_id: str, inspection_id: str, who: Writer, session: WriteSession) -> None:
    """Take an inspection back."""
    service.remove_inspection(session, who, fitment_id, inspection_id)


@router.post("/fitments/{fitment_id}/repairs", status_code=CREATED)
def create_repair(
    fitment_id: str, body: RepairCreate, who: Writer, session: WriteSession, response: Response
) -> RepairOut:
    """Write down work that left the part in place; cleaning does not make it new."""
    row = service.add_repair(session, who, fitment_id, body)
    response.headers["Location"] = f"/v1/fitments/{fitment_id}/repairs/{row.id}"
    return answers.repair_out(row)


@router.get("/fitments/{fitment_id}/repairs")
def list_repairs(fitment_id: str, who: Reader, session: ReadSession, asked: RecordsAsked) -> Page[RepairOut]:
    """Every repair of a part, by day."""
    lookups.found_fitment(session, who.fleet_id, fitment_id)
    rows = page_of(session, store.repairs_of(who.fleet_id, fitment_id), asked)
    return Page(items=[answers.repair_out(row) for row in rows])


@router.get("/fitments/{fitment_id}/repairs/{repair_id}")
def read_repair(fitment_id: str, repair_id: str, who: Reader, session: ReadSession) -> RepairOut:
    """One repair of a part."""
    return answers.repair_out(lookups.found_repair(session, who.fleet_id, fitment_id, repair_id))


@router.delete("/fitments/{fitment_id}/repairs/{repair_id}", status_code=NO_CONTENT)
def delete_repair(fitment_id: str, repair_id: str, who: Writer, session: WriteSession) -> None:
    """Take a repair back."""
    service.remove_repair(session, who, fitment_id, repair_id)


@router.post("/fitments/{fitment_id}/removal", status_code=CREATED)
def create_removal(
    fitment_id: str, body: RemovalCreate, who: Writer, session: WriteSession, response: Response
) -> RemovalOut:
    """Write down that the part came off, and why: only some reasons say that it had failed."""
    row = service.add_removal(session, who, fitment_id, body)
    response.headers["Location"] = f"/v1/fitments/{fitment_id}/removal"
    send_tag(response, row)
    return answers.removal_out(row)


@router.get("/fitments/{fitment_id}/removal")
def read_removal(fitment_id: str, who: Reader, session: ReadSession, response: Response) -> RemovalOut:
    """How the part came off."""
    lookups.found_fitment(session, who.fleet_id, fitment_id)
    row = lookups.found_removal(session, who.fleet_id, fitment_id)
    send_tag(response, row)
    return answers.removal_out(row)


@router.delete("/fitments/{fitment_id}/removal", status_code=NO_CONTENT)
def delete_removal(fitment_id: str, who: Writer, session: WriteSession) -> None:
    """Take a removal back: the part is on the car after all."""
    service.take_back_removal(session, who, fitment_id)
