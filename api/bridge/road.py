"""A car on the road: the chance that any of its parts stops it over the days and the distance ahead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.catalogue import load_catalogue
from planner.risk import CarRisk, Exposure, car_risk

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.bridge.outlook import Outlook
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


def on_the_road(parts: Sequence[Outlook], *, km: float, years: float) -> OnTheRoad:
    """The chance of a stop.

    Args:
        parts: all of the car's parts in service, seen from the day of departure.
        km: distance ahead.
        years: time ahead.
    """
    sound = [one for one in parts if one.kept.since.found_bad is None]
    lives = {one.row.kind: _survivor(one.row.kind, sound) for one in sound}
    exposures = [
        Exposure(
            part=one.row.fitment_id,
            kind=one.row.kind,
            life=lives[one.row.kind],
            km=one.km,
            years=one.years,
            more_km=km,
            more_years=years,
            stops_car=load_catalogue()[one.row.kind].stops_car,
            new_part_fault=one.kept.new_part_fault,
        )
        for one in sound
    ]
    bad = tuple(one for one in parts if one.kept.since.found_bad is not None)
    return OnTheRoad(car_risk(exposures), bad)


def _survivor(kind: str, parts: Sequence[Outlook]) -> Life:
    """The life of a kind, knowing that this car's parts of it are still good.

    A fitted life knows already: their spells were in the fit. A book's draws are drawn again in proportion to the
    chance that these parts have come so far (systematic resampling, the same for the same clocks).
    """
    mine = [one for one in parts if one.row.kind == kind]
    life = mine[0].stored.life
    if mine[0].stored.source == "fitted":
        return life
    used = np.sum([life.cumulative_hazard_draws(**_clocks(life, one)) for one in mine], axis=0)
    weights = np.exp(-(used - used.min()))
    reached = np.cumsum(weights / weights.sum())
    places = (np.arange(len(reached)) + 0.5) / len(reached)
    rows = np.minimum(np.searchsorted(reached, places), len(reached) - 1)
    return replace(life, draws=life.draws[rows])


def _clocks(life: Life, one: Outlook) -> dict[str, float]:
    clocks = {"distance": ("km", one.km), "age": ("years", one.years)}
    return dict(clocks[name] for name in life.clocks)
