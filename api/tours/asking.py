"""Which tour is asked about: one told in the question, or one that is stored for the car; never one that is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, cast

from api.planned_use.service import one
from api.problems import Malformed

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from planner.units import DistanceUnit

USUAL_DISTANCE = 1_000.0
USUAL_DAYS = 14
"""Of a tour of which neither is told (common practice, no source)."""


@dataclass(frozen=True)
class Asked:
    """What stood in the question; None: nothing."""

    distance: float | None
    days: int | None
    starts_on: date | None
    unit: DistanceUnit | None
    planned_use: str | None


@dataclass(frozen=True)
class Tour:
    """A tour: its first and last day, how many days it counts with both of them, how far it goes; what to renew before it.

    Attributes:
        unit: of the distance; None: the car's.
        renew: packages of work, each fitments or kinds with commas between.
        bedded_in: the new parts are run in beforehand.
        planned_use: id of the stored tour; None where it is told in the question.
    """

    starts_on: date
    ends_on: date
    days: int
    distance: float
    unit: DistanceUnit | None
    renew: tuple[str, ...]
    bedded_in: bool
    planned_use: str | None = None


def tour(
    session: Session,
    who: Principal,
    vehicle_id: str,
    asked: Asked,
    renew: tuple[str, ...],
    *,
    bedded_in: bool,
) -> Tour:
    """The tour that is meant.

    Raises:
        Malformed: it is over, a lay-up is named, or a stored tour and one told in the question at once.
        NotFound: no such planned use of this car.
    """
    if asked.planned_use is not None:
        return _stored(session, who, vehicle_id, asked, renew, bedded_in=bedded_in)
    starts_on = asked.starts_on or who.today()
    days = USUAL_DAYS if asked.days is None else asked.days
    ends_on = starts_on + timedelta(days=days - 1)
    if ends_on < who.today():
        first = who.today() - timedelta(days=days - 1)
        wanted = f"{first} or a later day: a tour of {days} days that began before is over"
        raise Malformed("starts_on", wanted, starts_on.isoformat())
    distance = USUAL_DISTANCE if asked.distance is None else asked.distance
    return Tour(starts_on, ends_on, days, distance, asked.unit, renew, bedded_in)


def _stored(
    session: Session,
    who: Principal,
    vehicle_id: str,
    asked: Asked,
    renew: tuple[str, ...],
    *,
    bedded_in: bool,
) -> Tour:
    for name in ("distance", "days", "starts_on", "unit"):
        if getattr(asked, name) is not None:
            raise Malformed(name, "nothing beside planned_use, which says it", str(getattr(asked, name)))
    row = one(session, who.fleet_id, vehicle_id, asked.planned_use or "")
    if row.distance_value is None:
        raise Malformed("planned_use", "a tour", f"a {row.what}")
    if row.ends_on < who.today():
        raise Malformed(
            "planned_use", f"a tour that is not over today ({who.today()})", row.ends_on.isoformat()
        )
    return Tour(
        starts_on=row.starts_on,
        ends_on=row.ends_on,
        days=(row.ends_on - row.starts_on).days + 1,
        distance=row.distance_value,
        unit=cast("DistanceUnit", row.distance_unit),
        renew=renew,
        bedded_in=bedded_in,
        planned_use=row.id,
    )
