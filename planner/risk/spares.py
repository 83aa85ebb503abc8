"""How many parts to have ready: the exact Poisson-binomial distribution per draw, averaged, then its quantile."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import InputError
from planner.risk.exposure import Exposure, chance_draws

if TYPE_CHECKING:
    from collections.abc import Sequence

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Stock:
    """Parts of one kind that will be wanted in a period.

    Attributes:
        expected: mean number.
        needed: the number that is enough with the chance asked for.
        chances: chance of wanting exactly 0, 1, … of them.
    """

    expected: float
    needed: int
    chances: Array


def poisson_binomial(chances: ArrayLike) -> Array:
    """Chance of 0, 1, … n events among n independent ones, exactly, by convolution.

    Args:
        chances: of each event, shape (n,) or per draw (draws, n).

    Returns:
        Shape (n + 1,) or (draws, n + 1).

    Raises:
        InputError: a chance is not from 0 to 1.
    """
    p = np.asarray(chances, dtype=np.float64)
    if p.ndim not in {1, 2} or not np.all((p >= 0) & (p <= 1)):
        raise InputError("chances", "chances from 0 to 1, shape (n,) or (draws, n)", chances)
    each = np.atleast_2d(p)
    law = np.zeros((len(each), each.shape[1] + 1))
    law[:, 0] = 1.0
    for place in range(each.shape[1]):
        happens = each[:, place, None]
        law[:, 1 : place + 2] = law[:, 1 : place + 2] * (1.0 - happens) + law[:, : place + 1] * happens
        law[:, 0] *= 1.0 - happens[:, 0]
    return law[0] if p.ndim == 1 else law


def stock_needed(exposures: Sequence[Exposure], *, planned: int = 0, enough: float = 0.95) -> Stock:
    """Parts of one kind to have ready for a period: failures to expect, and renewals already planned.

    All the parts share what is not known of their life, so the number is distributed as a Poisson-binomial *per draw*
    and these are averaged before the quantile is taken: with the averaged chances alone it would come out too small.
    Planned renewals are counted as certain; leave those parts out of `exposures`.

    Raises:
        InputError: `planned` is negative, `enough` no chance, or an exposure malformed.
    """
    if planned < 0:
        raise InputError("planned", "a number of 0 or more", planned)
    if not 0.0 < enough < 1.0:
        raise InputError("enough", "a chance above 0 and below 1", enough)
    law = _failures(exposures)
    chances = np.concatenate((np.zeros(planned), law))
    needed = int(np.searchsorted(np.cumsum(chances), enough - 1e-12))
    return Stock(float(chances @ np.arange(len(chances))), min(needed, len(chances) - 1), chances)


def _failures(exposures: Sequence[Exposure]) -> Array:
    if not exposures:
        return np.ones(1)
    draws = [
        chance_draws(one.life, (one.km, one.years), (one.more_km, one.more_years), one.new_part_fault)
        for one in exposures
    ]
    size = max(len(each) for each in draws)
    law = poisson_binomial(np.stack([np.resize(each, size) for each in draws], axis=1))
    return np.asarray(law.mean(axis=0))
