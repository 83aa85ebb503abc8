"""Censoring weighed out: who could be followed speaks for those like him who could not.

Parts renewed ahead of need, sold or lost sight of tell nothing of what would have come. Each statement whose outcome is known
weighs 1 / G, with G the chance of having been followed so long (inverse probability of censoring; Robins & Rotnitzky 1992; Graf,
Schmoor, Sauerbrei & Schumacher 1999, Statistics in Medicine 18:2529-2545). A plan renews the parts with the highest chances, so G is
estimated apart in groups of stated chance; one G for all would call a good prediction a bad one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.history.spells import Spells
from planner.life.nonparametric import survival_curve

if TYPE_CHECKING:
    from numpy.typing import NDArray

ENOUGH_LOST = 25.0
"""Censored weight that a group of stated chance needs for a curve of its own."""

MOST_GROUPS = 5

LEAST_FOLLOWED = 0.05
"""Below this chance of being followed so long a weight is bounded (at 20): a few parts must not speak for very many."""


def groups_of_chance(
    chance: NDArray[np.float64], censored: NDArray[np.bool_], weight: NDArray[np.float64]
) -> NDArray[np.int64]:
    """Groups of rising stated chance, each with censored weight enough for a curve of its own; shape (n,)."""
    lost = float(weight[censored].sum())
    count = int(min(max(lost // ENOUGH_LOST, 1), MOST_GROUPS))
    cuts = np.quantile(chance[censored], np.arange(1, count) / count) if count > 1 else np.empty(0)
    return np.searchsorted(np.unique(cuts), chance, side="right")


def censoring_weights(
    time: NDArray[np.float64],
    censored: NDArray[np.bool_],
    weight: NDArray[np.float64],
    group: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Weight of every row once censoring is weighed out, and which had to be bounded.

    Args:
        time: time for which a row was followed, above 0.
        censored: rows that left before the horizon's end without failing; they get 0.
        weight: of the row itself.
        group: whose curve of being followed holds for it.

    Returns:
        weight / G(time-), and True where G was below `LEAST_FOLLOWED`; both of shape (n,).
    """
    followed = np.ones(len(time))
    for name in np.unique(group):
        rows = group == name
        if (censored & rows).any():
            followed[rows] = _followed(time[rows], censored[rows], weight[rows])
    bounded = (followed < LEAST_FOLLOWED) & ~censored
    found = np.where(censored, 0.0, weight / np.maximum(followed, LEAST_FOLLOWED))
    return found, bounded


def _followed(
    time: NDArray[np.float64], censored: NDArray[np.bool_], weight: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Chance of being followed up to just before each row's time; what fails and what leaves on one day: it failed first."""
    ends = np.where(censored, time, np.nextafter(time, 0.0))
    curve = survival_curve(Spells.on_age(ends, np.where(censored, ends, np.inf), weight=weight))
    return curve.at(np.nextafter(time, 0.0))
