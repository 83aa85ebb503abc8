"""The truth behind the papers: how far each car really went and when each part would really fail."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING

from planner.catalogue import load_catalogue
from planner.units import to_km
from seed_data.firm import RECORDS_END, Car
from seed_data.practice import PRACTICE

if TYPE_CHECKING:
    from random import Random

_FIRST_DAY = date(1990, 1, 1)

_MONTHS = {  # share of a year's distance by month, January first
    "weddings": (0, 0, 3, 9, 17, 19, 18, 16, 12, 5, 0, 1),
    "touring": (1, 1, 5, 10, 14, 14, 15, 16, 12, 8, 3, 1),
    "film": (5, 6, 8, 10, 10, 10, 8, 8, 11, 10, 8, 6),
    "station run": (7, 7, 8, 8, 8, 9, 9, 12, 9, 8, 8, 7),
}


class Road:
    """One car's true distance, day by day (km on the whole of its life's odometer)."""

    def __init__(self, car: Car, rng: Random) -> None:
        months = _MONTHS[car.use]
        self._km = [0.0]
        day, busy = _FIRST_DAY, 1.0
        while day <= RECORDS_END:
            if day.month == 1 and day.day == 1:
                busy = math.exp(rng.gauss(0.0, 0.15))
            stands = car.laid_up is not None and car.laid_up[0] <= day <= car.laid_up[1]
            share = 0.0 if stands else months[day.month - 1] / sum(months)
            self._km.append(self._km[-1] + car.km_per_year * busy * share / 30.4)
            day += timedelta(days=1)
        self._offset = to_km(car.dial, car.unit) - self._at(car.followed_from)

    def _at(self, day: date) -> float:
        return self._km[(day - _FIRST_DAY).days]

    def km(self, day: date) -> float:
        """True distance on the evening of that day."""
        return self._at(day) + self._offset

    def failure_day(self, fitted: date, lasts_km: float, lasts_years: float) -> date:
        """The first day on which either clock has run out; the day after the records where neither has."""
        by_age = fitted + timedelta(days=min(lasts_years, 100.0) * 365.25)
        goal = self._at(fitted) + lasts_km
        low, high = fitted, min(by_age, RECORDS_END + timedelta(days=1))
        if high > RECORDS_END and self._at(RECORDS_END) < goal:
            return RECORDS_END + timedelta(days=1)
        while low < high:
            middle = low + timedelta(days=(high - low).days // 2)
            if self._at(middle) < goal:
                low = middle + timedelta(days=1)
            else:
                high = middle
        return low


def draw_life(kind: str, rng: Random) -> tuple[float, float]:
    """How long one part of that kind really lasts on each clock: (km, years), infinite where it has no such clock."""
    part = load_catalogue()[kind]
    stretch = PRACTICE[kind].life
    lasts = []
    for clock in (part.distance, part.age):
        if clock is None:
            lasts.append(math.inf)
            continue
        shape = math.log(math.log(2) / -math.log(0.9)) / math.log(clock.p50 / clock.p10)
        scale = clock.p50 / math.log(2) ** (1 / shape)
        lasts.append(stretch * rng.weibullvariate(scale, shape))
    if rng.random() < part.new_part_fault:
        return math.inf, rng.uniform(5, 40) / 365.25
    return lasts[0], lasts[1]
