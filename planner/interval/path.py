"""A life seen along one car's straight path from new: both clocks tied by the yearly distance."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from planner.errors import CostError, InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

Array = NDArray[np.float64]

PathHazard = Callable[[Array], Array]
"""Years from fitting, shape (n,) -> cumulative hazard per posterior draw, shape (draws, n)."""


class LifeOnClocks(Protocol):
    """What the interval needs of a fitted or known life."""

    @property
    def clocks(self) -> Sequence[str]:
        """The clocks that the life runs on: "distance", "age" or both."""

    def cumulative_hazard(self, *, km: ArrayLike | None = None, years: ArrayLike | None = None) -> Any:
        """Cumulative hazard at the estimate, shaped like the arguments."""

    def cumulative_hazard_draws(self, *, km: ArrayLike | None = None, years: ArrayLike | None = None) -> Any:
        """Cumulative hazard per draw, shape (draws, …)."""


def path_hazard(
    life: LifeOnClocks,
    km_per_year: float | None,
    *,
    plug_in: bool = False,
    km: float = 0.0,
    years_before: float = 0.0,
) -> PathHazard:
    """The cumulative hazard, from new, at so many years from now, the distance following at `km_per_year`.

    Args:
        life: fitted or known life.
        km_per_year: yearly distance from now on.
        plug_in: the estimate alone, as a single draw.
        km: distance since fitting now; 0 for a new part.
        years_before: age since fitting now; 0 for a new part.

    Raises:
        InputError: no life.
        CostError: the life runs on distance and no yearly distance is given.
    """
    if not hasattr(life, "clocks") or not hasattr(life, "cumulative_hazard"):
        raise InputError("life", "a fitted or known life", life)
    by_distance, by_age = "distance" in life.clocks, "age" in life.clocks
    if by_distance and km_per_year is None:
        raise CostError("km_per_year", "a yearly distance, because this part is worn by distance", None)
    rate = km_per_year or 0.0

    def hazard(years: Array) -> Array:
        at = {}
        if by_distance:
            at["km"] = km + rate * years
        if by_age:
            at["years"] = years_before + years
        if plug_in:
            return np.atleast_2d(np.asarray(life.cumulative_hazard(**at), dtype=np.float64))
        return np.asarray(life.cumulative_hazard_draws(**at), dtype=np.float64)

    return hazard


def distance_share(life: LifeOnClocks, km_per_year: float | None, years: float) -> float | None:
    """Share of the wearing, up to `years` on the path, that distance does (at the estimate); None if none is done."""
    if "distance" not in life.clocks or "age" not in life.clocks:
        only = path_hazard(life, km_per_year, plug_in=True)(np.array([years]))[0, 0]
        return None if only == 0 else float("distance" in life.clocks)
    both = float(life.cumulative_hazard(km=(km_per_year or 0.0) * years, years=years))
    age = float(life.cumulative_hazard(km=0.0, years=years))
    return None if both == 0 else 1.0 - age / both
