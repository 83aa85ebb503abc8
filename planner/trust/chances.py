"""Chances as they would have been stated on a past day: averaged over the draws of the life and the paces of the car."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

from planner.trust.at_risk import PACES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from planner.history.spells import Spells
    from planner.life.model import Life
    from planner.life.prior import LifePrior
    from planner.trust.at_risk import InService

_AT_ONCE = 500
"""Parts whose draws are held at one time."""


class Says(Protocol):
    """A way to state chances."""

    def __call__(self, parts: Sequence[InService], on: date, days: Sequence[date]) -> NDArray[np.float64]:
        """Chance of each part to have failed by its own later day, given good on the day; shape (parts,)."""


@dataclass(frozen=True)
class LifeSays:
    """Chances by a life: the mean over its draws, and over the low, likely and high pace of the car."""

    life: Life

    def __call__(self, parts: Sequence[InService], on: date, days: Sequence[date]) -> NDArray[np.float64]:
        """See `Says`."""
        found = [
            self._some(parts[start : start + _AT_ONCE], on, days[start : start + _AT_ONCE])
            for start in range(0, len(parts), _AT_ONCE)
        ]
        return np.concatenate(found)

    def _some(self, parts: Sequence[InService], on: date, days: Sequence[date]) -> NDArray[np.float64]:
        shape = (len(parts), len(PACES))
        now_km, now_years = (
            np.broadcast_to(np.array([getattr(part, name) for part in parts])[:, None], shape)
            for name in ("km", "years")
        )
        more_km = np.concatenate([part.ahead([day]) for part, day in zip(parts, days, strict=True)])
        more_years = np.broadcast_to(np.array([(day - on).days / 365.25 for day in days])[:, None], shape)
        clocks = {"distance": ("km", now_km, more_km), "age": ("years", now_years, more_years)}
        chosen = [clocks[clock] for clock in self.life.clocks]
        now = {name: at for name, at, _ in chosen}
        ahead = {f"more_{name}": more for name, _, more in chosen}
        by_draw = self.life.failure_within_draws(**now, **ahead)
        chances: NDArray[np.float64] = by_draw.mean(axis=0) @ np.array(PACES)
        return chances


@dataclass(frozen=True)
class RuleOfThumb:
    """The keeper's rule: as many fail a year as so far, whatever a part's age.

    Attributes:
        clock: what the rate counts on: "years" where the life runs on age, else "km".
        rate: failures per year, or per km.
        words: how it came about.
    """

    clock: str
    rate: float
    words: str

    def __call__(self, parts: Sequence[InService], on: date, days: Sequence[date]) -> NDArray[np.float64]:
        """See `Says`."""
        if self.clock == "years":
            ahead = np.array([[(day - on).days / 365.25] * len(PACES) for day in days])
        else:
            ahead = np.concatenate([part.ahead([day]) for part, day in zip(parts, days, strict=True)])
        chances: NDArray[np.float64] = -np.expm1(-self.rate * ahead) @ np.array(PACES)
        return chances


def rule_of_thumb(spells: Spells | None, prior: LifePrior | None) -> RuleOfThumb | None:
    """The rule as it would have been said on a past day; None where nothing was known.

    Failures so far over time in service so far. One failure in one life of the book's median length is counted in where there is
    a prior, else half a failure, so that nobody says "never".

    Args:
        spells: known on that day; None where no history gave one.
        prior: of the book, or None.
    """
    clocks = prior.clocks if spells is None and prior is not None else () if spells is None else spells.clocks
    if not clocks:
        return None
    clock = "age" if "age" in clocks else "distance"
    failures, exposure = _so_far(spells, clock)
    if prior is not None:
        book = prior.age if clock == "age" else prior.distance
        if book is not None:
            failures, exposure = failures + 1.0, exposure + book.p50 / np.log(2.0)
    else:
        failures += 0.5
    if exposure <= 0.0:
        return None
    added = "one failure in a book life" if prior is not None else "half a failure"
    words = f"as many fail as so far, whatever a part's age ({added} counted in from the start)"
    return RuleOfThumb("years" if clock == "age" else "km", failures / exposure, words)


def _so_far(spells: Spells | None, clock: str) -> tuple[float, float]:
    if spells is None:
        return 0.0, 0.0
    bounds = spells.bounds[spells.clocks.index("age" if clock == "age" else "distance")]
    failed = np.isfinite(bounds.upper)
    end = np.where(failed, (bounds.lower + np.where(failed, bounds.upper, 0.0)) / 2.0, bounds.lower)
    exposure = float((spells.weight * (end - bounds.entry)).sum())
    return float(spells.weight[failed & ~spells.censored].sum()), exposure
