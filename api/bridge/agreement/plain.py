"""Cars whose odometer figures plainly rise, found by arrays: most cars, and nothing more to be asked of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from api.bridge.agreement import store
from planner.history.dial import FURTHEST_DAY_KM, SLOPPY_DATES_KM
from planner.units import KM_PER_MILE

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session


def plainly_rising(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> set[str]:
    """Cars whose odometer figures rise from day to day, no further than a car goes, with nothing to be explained.

    Of the others the planner must tell whether a fall is a rollover, a new instrument or a contradiction.
    """
    figures = store.figures(session, fleet_id, vehicle_ids)
    bad = set(figures.special)
    if len(figures.cars):
        known, car = np.unique(np.array(figures.cars), return_inverse=True)
        day = np.array(figures.days, dtype="datetime64[D]").astype(np.int64)
        km = np.array(figures.values, dtype=float)
        km = np.where(np.array(figures.miles, dtype=bool), km * KM_PER_MILE, km)
        order = np.lexsort((km, day, car))
        car, day, km = car[order], day[order], km[order]
        rise, days = np.diff(km), np.diff(day)
        odd = (rise < 0) | (rise > SLOPPY_DATES_KM + FURTHEST_DAY_KM * days)
        bad |= set(known[car[1:][(car[1:] == car[:-1]) & odd]].tolist())
    return set(vehicle_ids) - bad
