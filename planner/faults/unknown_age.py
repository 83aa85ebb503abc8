"""A suspect of which nobody knows the fitting day: what it accrued, averaged over the days on which it may have been fitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.faults.book import LEAST_HAZARD
from planner.faults.errors import FaultError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.life.model import Life

    Array = NDArray[np.float64]

POSSIBLE_DAYS = 40
"""How many fitting days stand for the whole range."""


def possible_days() -> tuple[Array, Array]:
    """Where in the range from the earliest to the latest possible fitting the days lie, and how much of it each stands for.

    Returns:
        Shares of the range from 0 to 1, closer towards the latest day, where ages differ most; and weights that sum to 1.
        Both (days,).
    """
    back = (POSSIBLE_DAYS - np.arange(POSSIBLE_DAYS) - 0.5) / POSSIBLE_DAYS
    return 1.0 - back**2, back / back.sum()


def accrued_of_unknown_age(
    life: Life,
    *,
    km: tuple[Array, Array] | None = None,
    years: tuple[Array, Array] | None = None,
    seed: int = 0,
) -> Array:
    """Hazard accrued between "last ran well" and now by a part of unknown age, as many values as its life has draws.

    Age and life are weighed together by the chance that the part was still good when the car last ran well. That may
    leave tough lives only, or pass by a kind's early failures, and make the part look better than a new one. But not
    to know must not speak for a part: from the least to the greatest, its values are held to be no less than those of a
    part that was new when the car last ran well.

    Args:
        life: of the part's kind, fitted or from the book.
        km: distance since fitting (then, now) for each of the `possible_days`; where the life runs on distance.
        years: age (then, now), likewise.
        seed: of the order of the values; one for each part, so that parts stay independent.

    Raises:
        InputError: clocks that are not the life's, or below 0.
        FaultError: now is before then.
    """
    for field, clock in (("km", km), ("years", years)):
        if clock is not None and (clock[1] < clock[0]).any():
            raise FaultError(field, "clocks now that are not below the clocks then", clock)
    then = life.cumulative_hazard_draws(km and km[0], years and years[0])
    accrued = life.cumulative_hazard_draws(km and km[1], years and years[1]) - then
    weights = possible_days()[1] * np.exp(-(then - then.min()))
    order = np.argsort(accrued, axis=None)
    reached = np.cumsum(weights.ravel()[order])
    at = (np.arange(len(then)) + 0.5) / len(then) * reached[-1]
    found = accrued.ravel()[order][np.searchsorted(reached, at).clip(0, len(order) - 1)]
    fresh = np.sort(life.cumulative_hazard_draws(km and _most(km), years and _most(years)))
    held: Array = np.maximum(np.maximum(found, fresh), LEAST_HAZARD)
    return np.random.default_rng(seed).permutation(held)


def _most(clock: tuple[Array, Array]) -> float:
    """What the clock gained in the meantime."""
    return float((clock[1] - clock[0]).max())
