"""A part of unknown age: its chance of failing ahead, averaged over the days on which it may have been fitted.

Its due days treat it as old. A chance must not: taken at the greatest possible age it would be nearly certain, and
weighted by its survival to that age it would make the part look tougher than any. So the fitting day is spread evenly
over the possible ones and each is weighted by the chance that the part is still good today.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.risk import Chance
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from api.bridge.forecasts.clocks import Counted
    from planner.life.model import Life

    Array = NDArray[np.float64]

POSSIBLE_DAYS = 24
"""How many fitting days stand for the whole range."""


def fails_ahead(
    life: Life, since: Counted, now: tuple[date, float], more: tuple[float, float]
) -> tuple[Array, Array]:
    """Chance of failing over a stretch, for each possible fitting day and draw, and what each of them weighs.

    Args:
        life: of the part's kind.
        since: between which days and odometers the part's clocks may begin.
        now: the day, and the car's true distance on it in km.
        more: km and years ahead.

    Returns:
        Chances and weights, each (fitting days, draws); the weights sum to 1.
    """
    share = (np.arange(POSSIBLE_DAYS) + 0.5) / POSSIBLE_DAYS
    first, last = since.earliest.toordinal(), since.latest.toordinal()
    years = np.maximum(now[0].toordinal() - (first + share * (last - first)), 0.0) / DAYS_PER_YEAR
    km = np.maximum(now[1] - (since.km[0] + share * (since.km[2] - since.km[0])), 0.0)
    used = _hazard(life, km, years)
    gained = np.maximum(_hazard(life, km + more[0], years + more[1]) - used, 0.0)
    weights = np.exp(-(used - used.min()))
    return -np.expm1(-gained), weights / weights.sum()


def chance_ahead(
    life: Life, since: Counted, now: tuple[date, float], more: tuple[float, float], level: float = 0.8
) -> Chance:
    """The same as one chance; its range covers what is not known of the part's age as well as of the life."""
    fails, weights = (values.ravel() for values in fails_ahead(life, since, now, more))
    order = np.argsort(fails)
    reached = np.cumsum(weights[order])
    tails = np.searchsorted(reached, [(1 - level) / 2, (1 + level) / 2])
    low, high = fails[order][np.minimum(tails, len(fails) - 1)]
    return Chance(mean=float(weights @ fails), low=float(low), high=float(high))


def _hazard(life: Life, km: Array, years: Array) -> Array:
    """Cumulative hazard, (fitting days, draws)."""
    clocks = {"distance": ("km", km), "age": ("years", years)}
    return life.cumulative_hazard_draws(**dict(clocks[name] for name in life.clocks)).T
