"""A measured part's life to its limit in the form of a life: the measured clock from its own wear path, the other from its kind.

Each draw puts the limit at one point of the path's distribution, so sharply that the mixture over the draws is that distribution;
another clock keeps the draws of the kind. What asks a life for its chances then needs no other form for a measured part.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.life.model import ClockLife, Life

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import Clock
    from planner.life.measured.wear_path import WearPath

POINTS = 20
"""How many points, each of an equal share, stand for where the limit is reached."""

SHARP = 40.0
"""Shape of one draw: lives within about 3 % of their point, less than what two points differ by."""

_JUST_AHEAD = 1.02
"""Where a path puts the limit behind the part's clock, it is put this much ahead: nobody has seen it reached."""


def limit_points(path: WearPath, set_at: float = 0.0) -> tuple[float, ...]:
    """Clocks from fitting at which the limit is reached: the middle of each of `POINTS` equal shares.

    Args:
        path: of a part.
        set_at: the part's own clock when its figure was last set; 0 from new.
    """
    reached = np.cumsum(path.probability)
    shares = (np.arange(POINTS) + 0.5) / POINTS * reached[-1]
    found = np.minimum(np.searchsorted(reached, shares), len(path.lives) - 1)
    ahead = np.maximum(set_at + path.lives[found], _JUST_AHEAD * (set_at + path.now))
    return tuple(float(at) for at in ahead)


def life_on_path(life: Life, clock: Clock, points: Sequence[float]) -> Life:
    """The life of one measured part.

    Args:
        life: of its kind.
        clock: that the measurements were taken against.
        points: clocks from fitting at which the limit is reached, each as likely as the others.

    Raises:
        InputError: a life without that clock, or points that are not finite and above 0.
    """
    if clock not in life.clocks:
        raise InputError("clock", f"one of {', '.join(life.clocks)}", clock)
    at = np.asarray(points, dtype=np.float64)
    if at.ndim != 1 or not len(at) or not (np.isfinite(at) & (at > 0)).all():
        raise InputError("points", "finite clocks above 0, at least one", points)
    repeats = max(1, len(life.draws) // len(at))
    draws = np.resize(life.draws, (repeats * len(at), life.draws.shape[1])).copy()
    column = 2 * life.clocks.index(clock)
    draws[:, column] = math.log(SHARP)
    # a Weibull law of that shape has its median at scale·(ln 2)^(1/shape)
    draws[:, column + 1] = np.log(np.tile(at, repeats)) - math.log(math.log(2.0)) / SHARP
    law = ClockLife(SHARP, float(np.exp(np.median(draws[:, column + 1]))))
    made = replace(life, draws=draws, derived=True, terms=None)
    return replace(made, distance=law) if clock == "distance" else replace(made, age=law)
