"""A car on the road: the chance that any of its parts stops it over the days and the distance ahead."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from api.bridge.forecasts.unknown_age import fails_ahead
from planner.catalogue import load_catalogue
from planner.risk import CarRisk, Exposure, car_risk, chance_draws

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import ArrayLike, NDArray

    from api.bridge.forecasts.outlook import Outlook
    from planner.life.model import Life


@dataclass(frozen=True)
class OnTheRoad:
    """What may stop a car.

    Attributes:
        risk: chance of a stop, and each part's own share in it, by fitment id.
        found_bad: parts found worn or failed and still fitted: not reckoned with, they come first.
    """

    risk: CarRisk
    found_bad: tuple[Outlook, ...]


@dataclass(frozen=True)
class Ahead:
    """A part's own chance of failing over the stretch ahead, per draw, in the form that the risk room takes.

    Attributes:
        fails: chance of failing, (draws,).
    """

    fails: NDArray[np.float64]
    clocks: tuple[str, ...] = ("age",)

    def cumulative_hazard_draws(self, *, km: ArrayLike | None = None, years: ArrayLike | None = None) -> Any:  # noqa: ARG002 - the protocol's names
        """Nothing at the start of the stretch, all of it at its end."""
        return -np.log1p(-np.minimum(self.fails, _NEARLY_ONE)) * (np.asarray(years) > 0)


_NEARLY_ONE = 1.0 - 1e-12


def on_the_road(parts: Sequence[Outlook], as_of: date, *, km: float, years: float) -> OnTheRoad:
    """The chance of a stop.

    Args:
        parts: all of the car's parts in service, seen from the day of departure.
        as_of: that day.
        km: distance ahead.
        years: time ahead.
    """
    sound = [one for one in parts if one.kept.since.found_bad is None]
    exposures = [
        Exposure(
            part=one.row.fitment_id,
            kind=one.row.kind,
            life=Ahead(fails_over(one, as_of, (km, years))),
            km=0.0,
            years=0.0,
            more_km=km,
            more_years=years,
            stops_car=load_catalogue()[one.row.kind].stops_car,
        )
        for one in sound
    ]
    bad = tuple(one for one in parts if one.kept.since.found_bad is not None)
    return OnTheRoad(car_risk(exposures), bad)


def fails_over(one: Outlook, as_of: date, more: tuple[float, float]) -> NDArray[np.float64]:
    """One part's chance of failing over the stretch, equally weighted draws, knowing that it is good now.

    A fitted life knows that already: the part's spell was in the fit. A book's draws are drawn again in proportion to
    the chance that the part has come so far (systematic resampling). A part of unknown age is averaged over its possible
    fitting days, draw by draw.
    """
    life = one.stored.life
    if one.kept.since.age_unknown:
        fails, weights = fails_ahead(life, one.kept.since, (as_of, one.odometer_km), more)
        total = weights.sum(axis=0)
        hit = (weights * fails).sum(axis=0)
        return drawn_again(np.divide(hit, total, out=np.zeros_like(hit), where=total > 0), total)
    fails_now = chance_draws(life, one.worn, more, one.kept.new_part_fault)
    if one.stored.source == "fitted":
        return fails_now
    used = life.cumulative_hazard_draws(**_clocks(life, one))
    return drawn_again(fails_now, np.exp(-(used - used.min())))


def drawn_again(values: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """As many rows, equally weighted, in proportion to the weights (systematic resampling; order kept)."""
    reached = np.cumsum(weights / weights.sum())
    places = (np.arange(len(reached)) + 0.5) / len(reached)
    return values[np.minimum(np.searchsorted(reached, places), len(reached) - 1)]


def _clocks(life: Life, one: Outlook) -> dict[str, float]:
    clocks = {"distance": ("km", one.worn[0]), "age": ("years", one.worn[1])}
    return dict(clocks[name] for name in life.clocks)
