"""From the book's shares of causes to this car: how often a part's fault shows, and what an average car accrues.

The book says, per hundred complaints of a kind on an average car, how many each part kind causes: s_i. On that
car a part of the kind fails at the mean rate 1 / mean life, so the chance that its fault shows *this* complaint is
c_i = R * s_i * mean life, where R is the rate of the complaint on the average car. R is not in the book; it is set
so that the clearest sign of all, the largest c_i, is `CLEAREST_SIGN`. Only second faults and the chance of
something else depend on that figure; the odds between parts do not.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from planner.faults.errors import FaultError
from planner.faults.guards import finite, number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.catalogue import BookClock, PartKind

REFERENCE_KM_PER_YEAR = 5_000.0
"""The average car behind the book's shares (judgement): between a collector's car and one in daily use."""

CLEAREST_SIGN = 0.8
"""P(complaint | faulty) of the part that this complaint points to most clearly (judgement)."""

LEAST_HAZARD = 1e-6
"""Floor of an accrued hazard: a part that ran and aged hardly at all can still have failed."""

_STEPS = 2_000


@dataclass(frozen=True)
class BookRates:
    """What the book implies of one complaint on one car.

    Attributes:
        shows: c_i per part kind: P(this complaint | a part of the kind is faulty).
        per_year: the complaint's rate on the average car.
        something_else_per_year: the rate at which causes outside the listed parts show it.
    """

    shows: Mapping[str, float]
    per_year: float
    something_else_per_year: float

    def something_else(self, years: float) -> float:
        """Leak: P(something outside the listed parts came up within so many years)."""
        finite("years", years)
        return float(-np.expm1(-max(self.something_else_per_year * years, LEAST_HAZARD)))


def mean_life(kind: PartKind, km_per_year: float = REFERENCE_KM_PER_YEAR) -> float:
    """Mean life in years of a kind that is never renewed ahead of need, on a car of this yearly distance.

    Raises:
        FaultError: the yearly distance is not above 0.
    """
    if number("km_per_year", km_per_year, "a yearly distance above 0") <= 0.0:
        raise FaultError("km_per_year", "a yearly distance above 0", km_per_year)
    return _mean_life(kind.distance, kind.age, float(km_per_year))


@lru_cache(maxsize=1_000)
def _mean_life(distance: BookClock | None, age: BookClock | None, km_per_year: float) -> float:
    clocks = [(clock, rate) for clock, rate in ((distance, km_per_year), (age, 1.0)) if clock is not None]
    longest = min(scale / rate * 40.0 ** (1.0 / shape) for (shape, scale), rate in _laws(clocks))
    years = np.linspace(0.0, longest, _STEPS)
    survival = np.exp(-sum((years * rate / scale) ** shape for (shape, scale), rate in _laws(clocks)))
    return float(np.trapezoid(survival, years))


def book_hazard(kind: PartKind, years: float) -> float:
    """Hazard that the average car's part accrues in so many years: years over the mean life."""
    finite("years", years)
    return max(years / mean_life(kind), LEAST_HAZARD)


def book_rates(
    shares: Mapping[str, float],
    something_else: float,
    kinds: Mapping[str, PartKind],
    conditions: Mapping[str, float] | None = None,
) -> BookRates:
    """Rates behind a complaint's shares.

    Args:
        shares: share of each part kind among the causes, any common scale.
        something_else: share of everything else, same scale, above 0.
        kinds: the catalogue's entry of each kind.
        conditions: likelihood ratio per kind of what was noticed (warm only, damp, under load ...), 1 if missing;
            they multiply the shares against everything else.

    Raises:
        FaultError: a share or ratio is negative, or all shares are 0.
    """
    ratios = conditions or {}
    weighed = {kind: _share(f"shares.{kind}", share) * _ratio(kind, ratios) for kind, share in shares.items()}
    if _share("something_else", something_else) <= 0.0 or not any(weighed.values()):
        raise FaultError(
            "shares", "a share above 0 for something else and for one part kind at least", shares
        )
    total = sum(weighed.values()) + something_else
    points = {kind: share / total * mean_life(kinds[kind]) for kind, share in weighed.items()}
    per_year = CLEAREST_SIGN / max(points.values())
    return BookRates(
        shows={kind: per_year * years for kind, years in points.items()},
        per_year=per_year,
        something_else_per_year=per_year * something_else / total,
    )


def _laws(clocks: list[tuple[BookClock, float]]) -> list[tuple[tuple[float, float], float]]:
    """Weibull (shape, scale) of each clock from its 10 % and 50 % points, with its units per year."""
    laws = []
    for clock, rate in clocks:
        shape = np.log(np.log(2.0) / -np.log(0.9)) / np.log(clock.p50 / clock.p10)
        laws.append(((float(shape), float(clock.p50 / np.log(2.0) ** (1.0 / shape))), rate))
    return laws


def _share(field: str, value: float) -> float:
    finite(field, value)
    return float(value)


def _ratio(kind: str, ratios: Mapping[str, float]) -> float:
    return _share(f"conditions.{kind}", ratios.get(kind, 1.0))
