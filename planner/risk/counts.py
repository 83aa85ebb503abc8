"""How many of many unequal events happen, when all of them share what is not known: the law of their sum."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_FAR = 9.0
_LEAST = 12


@dataclass(frozen=True)
class CountLaw:
    """The distribution of a number.

    Attributes:
        first: the smallest number with a chance.
        chances: chance of `first`, `first` + 1, …; numbers beyond, of a chance below 1e-12, are left out.
    """

    first: int
    chances: Array

    @property
    def mean(self) -> float:
        """Expected number."""
        return float(self.first + self.chances @ np.arange(len(self.chances)))

    def enough(self, chance: float) -> int:
        """The number that is not exceeded with this chance."""
        place = int(np.searchsorted(np.cumsum(self.chances), chance - 1e-12))
        return self.first + min(place, len(self.chances) - 1)


def count_law(chances: Array, units: NDArray[np.int64]) -> CountLaw:
    """The law of Σ units·event: exact per draw by convolution, then averaged over the draws.

    Likely events are counted from the other end (all of them, less those that do not happen), so the work grows with
    how much is uncertain and not with how much happens; what lies far outside (9 standard deviations, at least 12
    above the mean) is left out.

    Args:
        chances: of each event, shape (draws, events).
        units: how many each brings, shape (events,), 1 or more.
    """
    likely = chances.mean(axis=0) > 0.5
    happens = _tail(chances[:, ~likely], units[~likely])
    fails = _tail(1.0 - chances[:, likely], units[likely])
    law = np.zeros((len(chances), happens.shape[1] + fails.shape[1] - 1))
    for place in range(fails.shape[1]):
        at = fails.shape[1] - 1 - place
        law[:, at : at + happens.shape[1]] += fails[:, place, None] * happens
    mean = law.mean(axis=0)
    first = int(units[likely].sum()) - (fails.shape[1] - 1)
    return CountLaw(first, mean / mean.sum())


def _tail(chances: Array, units: NDArray[np.int64]) -> Array:
    """The law per draw of events that are mostly unlikely, shape (draws, numbers)."""
    mean = chances @ units
    variance = (chances * (1.0 - chances)) @ (units**2)
    most = float(np.max(mean + _FAR * np.sqrt(variance), initial=0.0)) + _LEAST * int(units.max(initial=1))
    size = min(int(units.sum()), math.ceil(most)) + 1
    law = np.zeros((len(chances), size))
    law[:, 0] = 1.0
    for place, unit in enumerate(units):
        chance = chances[:, place, None]
        moved = np.zeros_like(law)
        if unit < size:
            moved[:, unit:] = law[:, : size - unit]
        law = law * (1.0 - chance) + moved * chance
    return law
