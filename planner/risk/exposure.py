"""The chance that parts fail over so many more kilometres and years, given that they are good now."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import InputError
from planner.interval.odds import chance_in_words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


Array = NDArray[np.float64]


class LifeDraws(Protocol):
    """What the risk room needs of a life."""

    @property
    def clocks(self) -> Sequence[str]:
        """The clocks that the life runs on."""

    def cumulative_hazard_draws(self, *, km: ArrayLike | None = None, years: ArrayLike | None = None) -> Any:
        """Cumulative hazard per draw, shape (draws, …)."""


@dataclass(frozen=True)
class Chance:
    """A chance with what is not known about it.

    Attributes:
        mean: posterior mean, the chance to act on.
        low, high: ends of the central interval of the chance over the draws.
    """

    mean: float
    low: float
    high: float

    @property
    def words(self) -> str:
        """As odds with a range: "about 1 in 12 (between 1 in 30 and 1 in 6)"."""
        return chance_in_words(self.mean, self.low, self.high)


@dataclass(frozen=True)
class Exposure:
    """One part and what lies before it.

    Attributes:
        part: whatever the caller knows the part by.
        kind: its kind; parts of one kind share the draws of their life.
        life: the life of that kind.
        km, years: clocks now, since fitting.
        more_km, more_years: what lies ahead.
        stops_car: chance that its failure stops the car.
        new_part_fault: chance that it was bad from the start; only for a part not yet proven (km = years = 0).
    """

    part: str
    kind: str
    life: LifeDraws
    km: float
    years: float
    more_km: float
    more_years: float
    stops_car: float = 1.0
    new_part_fault: float = 0.0


@dataclass(frozen=True)
class CarRisk:
    """The chance that something stops the car.

    Attributes:
        stop: chance of at least one stop.
        contributors: (part, its own chance of stopping the car), the largest first.
    """

    stop: Chance
    contributors: tuple[tuple[str, Chance], ...]


def failure_chance(
    life: LifeDraws,
    *,
    km: float | None,
    years: float | None,
    more_km: float | None,
    more_years: float | None,
    level: float = 0.8,
    new_part_fault: float = 0.0,
    survived_counts: bool = False,
) -> Chance:
    """Chance that a part now at (km, years) fails within `more_km` and `more_years`, given that it is good now.

    Clocks that the life does not run on are ignored and may be None.

    Args:
        life: the life of its kind.
        km: distance since fitting now.
        years: age since fitting now.
        more_km: kilometres ahead.
        more_years: years ahead.
        level: share of the draws that the range covers.
        new_part_fault: chance that a part with both clocks at zero is bad; one that has run is proven.
        survived_counts: weight the draws by their chance that this part has come so far. Leave it off where
            this part's own spell was in the fit, or its survival would count twice.

    Raises:
        InputError: a clock or horizon is missing where the life runs on it, negative or not finite.
    """
    _check_level(level)
    draws = chance_draws(life, (km, years), (more_km, more_years), new_part_fault)
    weights = _survived(life, km, years) if survived_counts else np.full(len(draws), 1.0 / len(draws))
    return _summary(draws, weights, level)


def chance_draws(
    life: LifeDraws,
    now: tuple[float | None, float | None],
    more: tuple[float | None, float | None],
    new_part_fault: float = 0.0,
) -> Array:
    """Chance of failing over the horizon per draw, given good now; shape (draws,)."""
    start, end = _clocks(life, now, more)
    gained = life.cumulative_hazard_draws(**end) - life.cumulative_hazard_draws(**start)
    fails = -np.expm1(-np.maximum(np.asarray(gained, dtype=np.float64), 0.0))
    fault = new_part_fault if all(clock == 0 for clock in start.values()) else 0.0
    return np.asarray(fault + (1.0 - fault) * fails)


def car_risk(exposures: Sequence[Exposure], *, level: float = 0.8, seed: int = 0) -> CarRisk:
    """Chance that any of a car's parts stops it: the average over draws of 1 - Π(1 - s·p).

    Parts of one kind share their draws, different kinds are independent: each kind's draws are shuffled, by its
    name and `seed`, before they are laid side by side.

    Raises:
        InputError: a clock, horizon or chance of an exposure is out of range.
    """
    _check_level(level)
    each = [_stops(one, seed) for one in exposures]
    if not each:
        return CarRisk(Chance(0.0, 0.0, 0.0), ())
    size = max(len(draws) for draws in each)
    together = 1.0 - np.prod([1.0 - np.resize(draws, size) for draws in each], axis=0)
    named = [(one.part, _equal(draws, level)) for one, draws in zip(exposures, each, strict=True)]
    named.sort(key=lambda pair: pair[1].mean, reverse=True)
    return CarRisk(_equal(together, level), tuple(named))


def _stops(one: Exposure, seed: int) -> Array:
    for name in ("stops_car", "new_part_fault"):
        if not 0.0 <= getattr(one, name) <= 1.0:
            raise InputError(f"{one.part}.{name}", "a chance from 0 to 1", getattr(one, name))
    draws = chance_draws(one.life, (one.km, one.years), (one.more_km, one.more_years), one.new_part_fault)
    shuffle = np.random.default_rng([seed, zlib.crc32(one.kind.encode())])
    return np.asarray(one.stops_car * draws[shuffle.permutation(len(draws))])


def _clocks(
    life: LifeDraws, now: tuple[float | None, float | None], more: tuple[float | None, float | None]
) -> tuple[Mapping[str, float], Mapping[str, float]]:
    start, end = {}, {}
    for clock, name, at, ahead in zip(("distance", "age"), ("km", "years"), now, more, strict=True):
        if clock in life.clocks:
            start[name] = _amount(name, at)
            end[name] = start[name] + _amount(f"more_{name}", ahead)
    return start, end


def _survived(life: LifeDraws, km: float | None, years: float | None) -> Array:
    start, _ = _clocks(life, (km, years), (0.0, 0.0))
    used = np.asarray(life.cumulative_hazard_draws(**start), dtype=np.float64)
    weights = np.exp(-(used - used.min()))
    return np.asarray(weights / weights.sum())


def _amount(field: str, value: float | None) -> float:
    if value is None or isinstance(value, bool) or not math.isfinite(value) or value < 0:
        raise InputError(field, "a finite amount of 0 or more", value)
    return float(value)


def _check_level(level: float) -> None:
    if not 0.0 < level < 1.0:
        raise InputError("level", "a share above 0 and below 1", level)


def _equal(draws: Array, level: float) -> Chance:
    return _summary(draws, np.full(len(draws), 1.0 / len(draws)), level)


def _summary(draws: Array, weights: Array, level: float) -> Chance:
    order = np.argsort(draws)
    ranked, reached = draws[order], np.cumsum(weights[order])
    tails = (1.0 - level) / 2.0, (1.0 + level) / 2.0
    low, high = (float(ranked[min(int(np.searchsorted(reached, tail)), len(ranked) - 1)]) for tail in tails)
    return Chance(mean=float(weights @ draws), low=low, high=high)
