"""A life in circumstances: the scale of the clocks that each modifier names times its multiplier, uncertainty and all.

A multiplier is known to within limits: each draw of the life meets a draw of its own, from the trade's range or as the records taught.
The estimate goes by the middle. Of a safety part a multiplier shortens and never lengthens.

Source: accelerated life, ηu → ηu·exp(x·γ) (Nelson 1990, Accelerated Testing; Lawless 2003, section 6.3).
"""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.history.spell_columns import frozen
from planner.life.model import ClockLife

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import Clock, FloatArray
    from planner.life.model import Life
    from planner.life.modifiers.values import Modifier


@dataclass(frozen=True, eq=False)
class Multiplier:
    """One multiplier on life.

    Attributes:
        name: of the modifier.
        clocks: whose scale it multiplies.
        factor: the estimate, above 0.
        log_draws: natural logs of equally likely values, at least one.

    Raises:
        InputError: a factor that is not finite and above 0, or draws that are none.
    """

    name: str
    clocks: tuple[Clock, ...]
    factor: float
    log_draws: FloatArray

    def __post_init__(self) -> None:
        if not 0 < self.factor < math.inf:
            raise InputError("factor", "a finite number above 0", self.factor)
        if self.log_draws.ndim != 1 or not len(self.log_draws) or not np.isfinite(self.log_draws).all():
            raise InputError("log_draws", "finite numbers, at least one", self.log_draws)

    @property
    def shortening(self) -> Multiplier | None:
        """The same where it shortens, each draw held at 1 at the most; None where it is expected to lengthen."""
        if self.factor >= 1.0:
            return None
        return replace(self, log_draws=np.minimum(self.log_draws, 0.0))


@lru_cache(maxsize=200)
def book_multiplier(modifier: Modifier, draws: int) -> Multiplier:
    """A multiplier as the trade's notes have it: lognormal, its draws spread evenly and in an order that its name decides.

    Args:
        modifier: with its likeliest value and spread.
        draws: how many.
    """
    law = NormalDist(math.log(modifier.factor), modifier.spread)
    steps = np.array([law.inv_cdf((i + 0.5) / draws) for i in range(draws)])
    order = np.random.default_rng(zlib.crc32(modifier.name.encode()))
    return Multiplier(modifier.name, modifier.clocks, modifier.factor, frozen(order.permutation(steps)))


def life_in(life: Life, multipliers: Sequence[Multiplier]) -> Life:
    """The life of a part under some multipliers from new on; the life itself where none bears on its clocks.

    Args:
        life: without any of them.
        multipliers: they act together; where the draws are as many as the life's, one goes with one, otherwise the fewer are
            gone through again until there are as many as the most.
    """
    clocks = life.clocks
    most = max([len(life.draws), *(len(one.log_draws) for one in multipliers)])
    values = np.resize(life.draws, (most, life.draws.shape[1]))
    factors = dict.fromkeys(clocks, 1.0)
    for one in multipliers:
        own = np.resize(one.log_draws, len(values))
        for place, clock in enumerate(clocks):
            if clock in one.clocks:
                values[:, 2 * place + 1] += own
                factors[clock] *= one.factor
    if all(not set(one.clocks) & set(clocks) for one in multipliers):
        return life
    covariance = np.cov(values, rowvar=False) if len(values) > 1 else life.covariance
    distance = _longer(life.distance, factors.get("distance", 1.0))
    age = _longer(life.age, factors.get("age", 1.0))
    return replace(
        life, distance=distance, age=age, covariance=covariance, draws=values, derived=True, terms=None
    )


def _longer(law: ClockLife | None, factor: float) -> ClockLife | None:
    return None if law is None else ClockLife(law.shape, law.scale * factor)
