"""Buying a car whose parts nobody can date: what to treat as due, and what two years of it may cost."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.interval import Costs, Interval

Array = NDArray[np.float64]

YEARS_AHEAD = 2.0
"""What a buyer wants to know: the first two years."""

_AGES = 48
_TRIALS = 4_000


class LifeDraws(Protocol):
    """What a purchase needs of a life."""

    @property
    def clocks(self) -> Sequence[str]:
        """The clocks that the life runs on."""

    def cumulative_hazard_draws(self, *, km: ArrayLike | None = None, years: ArrayLike | None = None) -> Any:
        """Cumulative hazard per draw, shape (draws, …)."""


@dataclass(frozen=True, eq=False)
class OfferedPart:
    """One part of the car on offer.

    Attributes:
        name: what the buyer knows it by.
        kind: its kind; parts of one kind share the draws of their life.
        life, costs: of its kind.
        interval: of its kind at the pace at which the car was driven so far (its cap and risk limit within).
        safety: whether a failure can hurt someone.
        stops_car: chance that its failure stops the car.
        known_years: age by a paper that dates it; None where nobody knows.
    """

    name: str
    kind: str
    life: LifeDraws
    costs: Costs
    interval: Interval
    safety: bool = False
    stops_car: float = 0.0
    known_years: float | None = None


@dataclass(frozen=True)
class BuyingItem:
    """One line of the buyer's list.

    Attributes:
        name: the part.
        due: to be treated as due at once.
        cost_now: of renewing it.
        chance_if_left: that it fails within two years if it is left, being of unknown age in service (or of its
            known age).
        reason: why, in words.
        safety: as given.
        chance_range: ends of the central 80 % interval of that chance over the draws.
    """

    name: str
    due: bool
    cost_now: float
    chance_if_left: float
    reason: str
    safety: bool
    chance_range: tuple[float, float] = (0.0, 1.0)


@dataclass(frozen=True)
class CostRange:
    """What two years may cost: the mean, and the 10 % and 90 % points."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class BuyingList:
    """What a buyer should reckon with.

    Attributes:
        items: due ones first (safety before the rest, then by what leaving them risks), then what is left.
        if_done: two years with everything due renewed at once.
        if_left: two years with nothing renewed before it fails.
        stops_if_done, stops_if_left: expected stops in the two years.
    """

    items: tuple[BuyingItem, ...]
    if_done: CostRange
    if_left: CostRange
    stops_if_done: float
    stops_if_left: float


def buying_list(
    parts: Sequence[OfferedPart], *, car_years: float, car_km: float, km_per_year: float, seed: int = 0
) -> BuyingList:
    """What to treat as due on a car of which little is known.

    A part that no paper dates is treated as old: it is due if its interval is shorter than the car's own age and
    distance. What it will really do is another matter: for chances and costs its age is spread as the ages of parts found in
    service are (proportional to the chance of having come so far, up to the age of the car), its distance following at
    the car's mean pace.

    Args:
        parts: of the car.
        car_years: age of the car.
        car_km: its true distance, kilometres.
        km_per_year: how it is going to be driven.
        seed: of the trials behind the ranges.

    Raises:
        UsageError: an age, distance or pace is negative or not finite, or two parts have one name.
    """
    _check(parts, car_years, car_km, km_per_year)
    car = _Car(car_years, car_km / car_years if car_years > 0 else 0.0, km_per_year)
    fails = [_fails_if_left(part, car) for part in parts]
    due = [_reason(part, car) for part in parts]
    items = [_item(part, chance, reason) for part, chance, reason in zip(parts, fails, due, strict=True)]
    weigh = {part.name: chance.mean() * part.costs.failure for part, chance in zip(parts, fails, strict=True)}
    items.sort(key=lambda item: (not item.due, not item.safety, -weigh[item.name]))
    done = [
        _fails_as_new(part, car) if is_due else chance
        for part, chance, (is_due, _) in zip(parts, fails, due, strict=True)
    ]
    paid = sum(part.costs.planned for part, (is_due, _) in zip(parts, due, strict=True) if is_due)
    return BuyingList(
        tuple(items),
        _range(parts, done, paid, seed),
        _range(parts, fails, 0.0, seed),
        _stops(parts, done),
        _stops(parts, fails),
    )


@dataclass(frozen=True)
class _Car:
    years: float
    pace_so_far: float
    km_per_year: float


def _item(part: OfferedPart, chance: Array, reason: tuple[bool, str]) -> BuyingItem:
    due, words = reason
    low, high = (float(value) for value in np.quantile(chance, (0.1, 0.9)))
    return BuyingItem(
        part.name, due, part.costs.planned, float(chance.mean()), words, part.safety, (low, high)
    )


def _reason(part: OfferedPart, car: _Car) -> tuple[bool, str]:
    """(whether to treat as due, why)."""
    interval = part.interval
    if math.isinf(interval.years) and part.safety:
        return (
            False,
            "No limit of it is known here: look it up, and have the part checked before the first drive.",
        )
    if math.isinf(interval.years):
        return False, "Leave it and carry a spare: renewing it before it fails does not pay."
    years = car.years if part.known_years is None else part.known_years
    km = car.pace_so_far * years
    reached = years >= interval.years or (interval.km is not None and km >= interval.km > 0)
    if part.known_years is not None:
        return (
            reached,
            "By its papers it has reached its interval." if reached else "By its papers it is not due yet.",
        )
    if not reached:
        return False, "The whole car is younger than this part's interval."
    return True, "Nobody knows when it was fitted, so it is treated as old."


def _fails_if_left(part: OfferedPart, car: _Car) -> Array:
    """Chance of failing within two years per draw, its age spread as that of parts found in service."""
    if part.known_years is not None:
        ages = np.array([part.known_years])
    else:
        ages = (np.arange(_AGES) + 0.5) / _AGES * car.years
    now = _hazard(part.life, car.pace_so_far * ages, ages)
    later = _hazard(part.life, car.pace_so_far * ages + car.km_per_year * YEARS_AHEAD, ages + YEARS_AHEAD)
    weights = np.exp(-(now - now.min(axis=1, keepdims=True)))
    fails = -np.expm1(-np.maximum(later - now, 0.0))
    return np.asarray((weights * fails).sum(axis=1) / weights.sum(axis=1))


def _fails_as_new(part: OfferedPart, car: _Car) -> Array:
    wear = _hazard(part.life, np.array([car.km_per_year * YEARS_AHEAD]), np.array([YEARS_AHEAD]))[:, 0]
    return np.asarray(1.0 - (1.0 - part.costs.new_part_fault) * np.exp(-wear))


def _hazard(life: LifeDraws, km: Array, years: Array) -> Array:
    clocks = {"distance": ("km", km), "age": ("years", years)}
    return np.asarray(
        life.cumulative_hazard_draws(**dict(clocks[name] for name in life.clocks)), dtype=np.float64
    )


def _range(parts: Sequence[OfferedPart], fails: Sequence[Array], paid: float, seed: int) -> CostRange:
    """Cost of the failures over many trials: per trial one draw of each kind's life, shared by its parts."""
    total = np.full(_TRIALS, float(paid))
    for place, (part, chance) in enumerate(zip(parts, fails, strict=True)):
        shared = np.random.default_rng([seed, zlib.crc32(part.kind.encode())])
        draws = chance[shared.integers(0, len(chance), _TRIALS)]
        own = np.random.default_rng([seed, place, 1])
        total += part.costs.failure * (own.random(_TRIALS) < draws)
    mean = paid + sum(
        part.costs.failure * float(chance.mean()) for part, chance in zip(parts, fails, strict=True)
    )
    low, high = (float(value) for value in np.quantile(total, (0.1, 0.9)))
    return CostRange(mean, low, high)


def _stops(parts: Sequence[OfferedPart], fails: Sequence[Array]) -> float:
    return sum(part.stops_car * float(chance.mean()) for part, chance in zip(parts, fails, strict=True))


def _check(parts: Sequence[OfferedPart], years: float, km: float, rate: float) -> None:
    amounts = [("car_years", years), ("car_km", km), ("km_per_year", rate)]
    amounts += [
        (f"{part.name}.known_years", part.known_years) for part in parts if part.known_years is not None
    ]
    for field, value in amounts:
        if not math.isfinite(value) or value < 0:
            raise UsageError(field, "a finite amount of 0 or more", value)
    names = [part.name for part in parts]
    if len(set(names)) < len(names):
        raise UsageError("parts", "a name of its own for each part", names)
