"""HTTP for what comes due. Nothing here fits or scans histories: forecasts are read and seen from a day."""

from datetime import date, timedelta
from typing import Annotated, cast

from fastapi import APIRouter, Query

from api.conventions import PageAsked, page_of
from api.notices.due_soon import WITHIN_DAYS
from api.schedules import answers, no_driving, store
from api.schedules.schemas import DueSoon, Schedule
from api.schemas import CalendarDate
from api.security import Reader
from api.storage.session import ReadSession
from api.vehicles.service import found
from api.web.once import OnceRoute
from planner.units import DAYS_PER_YEAR, DistanceUnit

router = APIRouter(prefix="/v1", tags=["what comes due"], route_class=OnceRoute)

AsOf = Annotated[
    CalendarDate | None,
    Query(
        ge=date(1900, 1, 1),
        le=date(2150, 1, 1),
        description="seen from this day; default: today where the fleet is",
    ),
]
WithinDays = Annotated[int, Query(ge=0, le=3660, description="how many days ahead")]
HorizonYears = Annotated[float, Query(gt=0, le=10, description="how many years ahead, ten at most")]


@router.get("/due-soon")
def read_fleet_due_soon(
    who: Reader,
    session: ReadSession,
    asked: PageAsked,
    as_of: AsOf = None,
    within_days: WithinDays = WITHIN_DAYS,
) -> DueSoon:
    """The fleet's parts that are due, or whose likely day comes within the days ahead; the most overdue first.

    Cars that nobody should drive are named before all else, even where nothing of theirs is due.
    """
    day = as_of or who.today()
    rows = page_of(session, store.due_until(who.fleet_id, day + timedelta(days=within_days)), asked)
    return DueSoon(
        do_not_drive=no_driving.forbidden(session, who.fleet_id),
        items=answers.items(session, who, rows, day),
        as_of=day,
        within_days=within_days,
    )


@router.get("/vehicles/{vehicle_id}/due-soon")
def read_vehicle_due_soon(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    asked: PageAsked,
    as_of: AsOf = None,
    within_days: WithinDays = WITHIN_DAYS,
) -> DueSoon:
    """One car's parts that are due, or whose likely day comes within the days ahead; the most overdue first."""
    found(session, who.fleet_id, vehicle_id)
    day = as_of or who.today()
    last = day + timedelta(days=within_days)
    rows = page_of(session, store.due_until(who.fleet_id, last, vehicle_id), asked)
    return DueSoon(
        do_not_drive=no_driving.forbidden(session, who.fleet_id, vehicle_id),
        items=answers.items(session, who, rows, day),
        as_of=day,
        within_days=within_days,
    )


@router.get("/vehicles/{vehicle_id}/schedule")
def read_schedule(
    vehicle_id: str, who: Reader, session: ReadSession, as_of: AsOf = None, horizon_years: HorizonYears = 5
) -> Schedule:
    """One car's work over the years ahead, dated, with reasons; parts to be run to failure stand last."""
    vehicle = found(session, who.fleet_id, vehicle_id)
    day = as_of or who.today()
    last = day + timedelta(days=round(horizon_years * DAYS_PER_YEAR))
    rows = store.of_vehicle(session, who.fleet_id, vehicle_id, last)
    usage = store.usage(session, who.fleet_id, [vehicle_id]).get(vehicle_id)
    return Schedule(
        do_not_drive=no_driving.forbidden(session, who.fleet_id, vehicle_id),
        vehicle_id=vehicle_id,
        vehicle_name=vehicle.name,
        as_of=day,
        horizon_years=horizon_years,
        yearly_distance=answers.yearly(usage, cast("DistanceUnit", vehicle.distance_unit)),
        items=answers.items(session, who, rows, day),
    )
