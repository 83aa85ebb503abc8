"""A fleet's dates worked out anew for a day: how much each car is driven by now, and when its parts come due."""

from __future__ import annotations

from typing import TYPE_CHECKING

import structlog

from api.bridge import store
from api.bridge.in_force.ready import ready_for_cars
from api.bridge.keep import replan
from planner.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from api.jobs import Sessions
    from planner.progress import Progress

log = structlog.get_logger(__name__)

CARS_IN_ONE_TRANSACTION = 10
"""So few that a transaction stays well under a second."""


def redate(sessions: Sessions, fleet_id: str, today: date, progress: Progress) -> tuple[int, int]:
    """Bring every car of a fleet to a day, some cars a transaction; cars that are there already are left alone.

    Begun again after an interruption, it goes on with what is left.

    Args:
        sessions: transactions.
        fleet_id: whose cars.
        today: the day in the fleet's zone.
        progress: told how many cars are done.

    Returns:
        How many cars were brought forward, and how many could not be: their records contradict each other by now.
    """
    done = failed = 0
    last = ""
    while True:
        with sessions.reading() as session:
            cars = store.vehicles_not_seen_from(
                session, fleet_id, today, after=last, limit=CARS_IN_ONE_TRANSACTION
            )
        if not cars:
            return done, failed
        try:
            _bring(sessions, fleet_id, cars, today)
        except RecordError:
            failed += sum(not _one(sessions, fleet_id, car, today) for car in cars)
        done, last = done + len(cars), cars[-1]
        progress(done, 0, "cars seen from today")


def _bring(sessions: Sessions, fleet_id: str, cars: Sequence[str], today: date) -> None:
    ready_for_cars(sessions.database, fleet_id, cars)
    with sessions() as session:
        store.hold_vehicles(session, fleet_id, cars)
        replan(session, fleet_id, cars, today, because="day")


def _one(sessions: Sessions, fleet_id: str, car: str, today: date) -> bool:
    try:
        _bring(sessions, fleet_id, [car], today)
    except RecordError as error:
        log.warning("a car's dates stay as they are", vehicle=car, problem=str(error))
        return False
    return True
