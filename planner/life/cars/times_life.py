"""The life of a part on a car whose multiplier is known to within limits: for a multiplier stored apart from what it was learnt from."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist

import numpy as np

from planner.errors import InputError
from planner.life.checks import positive, seed_number
from planner.life.model import ClockLife, Life

_BETWEEN = 2 * NormalDist().inv_cdf(0.9)


def life_times(life: Life, mean: float, low: float, high: float, *, seed: int = 0) -> Life:
    """Every hazard of a life times Z, with Z lognormal of that mean and with that spread between its 10 % and 90 % points.

    A hazard times Z is the same Weibull law with its scale times Z^(-1/shape).

    Args:
        life: at Z = 1, fitted together with how much cars differ; one fitted without has averaged over the cars already.
        mean: posterior mean of Z.
        low: its 10 % point.
        high: its 90 % point.
        seed: of the order in which values of Z meet draws of the life.

    Raises:
        InputError: no life, limits that are not finite, above 0 and in order, a mean that is not above 0, or no seed.
    """
    if not isinstance(life, Life):
        raise InputError("life", "a Life", life)
    wanted = "two finite numbers above 0, in order"
    if positive("low, high", low, wanted) > positive("low, high", high, wanted):
        raise InputError("low, high", wanted, (low, high))
    positive("mean", mean)
    seed_number(seed)
    spread = math.log(high / low) / _BETWEEN
    count = len(life.draws)
    law = NormalDist()
    steps = np.array([law.inv_cdf((i + 0.5) / count) for i in range(count)])
    log_z = math.log(mean) - 0.5 * spread**2 + spread * np.random.default_rng(seed).permutation(steps)
    values = life.draws.copy()
    values[:, 1::2] -= log_z[:, None] / np.exp(values[:, 0::2])
    distance, age = (_slower(law_, mean) for law_ in (life.distance, life.age))
    return replace(life, distance=distance, age=age, draws=values, derived=True, terms=None)


def _slower(law: ClockLife | None, mean: float) -> ClockLife | None:
    return None if law is None else ClockLife(law.shape, law.scale * mean ** (-1 / law.shape))
