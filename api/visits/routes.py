"""HTTP for visits."""

import math
from typing import Annotated

from fastapi import APIRouter, Depends, Query

from api.problems import Malformed
from api.schedules.routes import AsOf
from api.schemas import CalendarDate
from api.security import Reader
from api.storage.session import ReadSession
from api.vehicles.service import found
from api.visits import service
from api.visits.schemas import VisitsOut
from api.web.once import OnceRoute
from planner.schedule import Season, Workshop

router = APIRouter(prefix="/v1/vehicles", tags=["what comes due"], route_class=OnceRoute)

DAY_OF_ANY_YEAR = r"^((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|1[0-9]|2[0-8]))$"
MonthDay = Annotated[
    str | None, Query(pattern=DAY_OF_ANY_YEAR, examples=["04-15"], description="month and day")
]
Amount = Annotated[float | None, Query(ge=0.01, le=1_000_000)]
Closed = Annotated[
    list[CalendarDate] | None, Query(max_length=400, description="days on which the workshop is shut")
]


def _rules(
    set_up: Annotated[float, Query(ge=0, le=100_000, description="cost of a visit as such")] = 50.0,
    gap_weeks: Annotated[int, Query(ge=1, le=52, description="weeks between visits, at least")] = 1,
    most_hours: Amount = None,
    most_money: Amount = None,
    season_start: MonthDay = None,
    season_end: MonthDay = None,
    closed: Closed = None,
) -> service.Rules:
    workshop = Workshop(
        set_up=set_up,
        least_gap=gap_weeks,
        most_hours=math.inf if most_hours is None else most_hours,
        most_money=math.inf if most_money is None else most_money,
    )
    return service.Rules(workshop, _season(season_start, season_end), dict.fromkeys(closed or (), True))


Rules = Annotated[service.Rules, Depends(_rules)]


@router.get("/{vehicle_id}/visits")
def read_visits(
    vehicle_id: str,
    who: Reader,
    session: ReadSession,
    rules: Rules,
    as_of: AsOf = None,
    within_years: Annotated[float, Query(ge=0.02, le=2, description="how far ahead visits are placed")] = 1.0,
) -> VisitsOut:
    """A car's work grouped into visits, to the week: together what shares access, outside the driving season.

    Hours and money limit a visit; a job that alone takes more is planned all the same and said. No visit is later than
    a hard cap or a risk limit: what finds no open week before it is said, safety parts first, and never dropped.
    """
    vehicle = found(session, who.fleet_id, vehicle_id)
    asked = service.Asked(as_of or who.today(), within_years, rules)
    return service.visits(session, who, vehicle, asked)


def _season(start: str | None, end: str | None) -> Season | None:
    if start is None and end is None:
        return None
    return Season(_month_day("season_start", start), _month_day("season_end", end))


def _month_day(field: str, text: str | None) -> tuple[int, int]:
    wanted = "a month and day such as 04-15 that every year has, for both ends of the season"
    if text is None:
        raise Malformed(field, wanted, text)
    month, day = (int(part) for part in text.split("-"))
    return month, day
