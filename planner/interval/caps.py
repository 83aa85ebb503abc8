"""Hard caps: limits of maker or authority that no statistics may lengthen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import CostError
from planner.interval.checks import positive

if TYPE_CHECKING:
    from planner.catalogue import PartKind


@dataclass(frozen=True)
class Cap:
    """The most that a part may reach from its fitting, whichever comes first; None where no limit is known.

    Attributes:
        km: distance since fitting, kilometres, positive and finite, or None.
        years: age since fitting, years, positive and finite, or None.

    Raises:
        CostError: a limit is not positive and finite.
    """

    km: float | None = None
    years: float | None = None

    def __post_init__(self) -> None:
        for field, limit in (("cap.km", self.km), ("cap.years", self.years)):
            if limit is not None:
                positive(field, limit, "a positive, finite limit, or None")

    @property
    def is_set(self) -> bool:
        """Whether any limit is known."""
        return self.km is not None or self.years is not None

    def years_on_path(self, km_per_year: float | None) -> float:
        """Years from new at which the cap is reached on the car's straight path; infinite without a limit.

        Raises:
            CostError: the cap is in km and there is no yearly distance to place it.
        """
        limit = math.inf if self.years is None else self.years
        if self.km is None:
            return limit
        if km_per_year is None:
            raise CostError("km_per_year", "a yearly distance, because the cap is in km", None)
        return min(limit, self.km / km_per_year) if km_per_year > 0 else limit


NO_CAP = Cap()
"""No limit known: nothing is capped, and whoever asks must look the limit up."""


def book_cap(kind: PartKind) -> Cap:
    """The catalogue's cap of a kind; empty where the limit is unknown or the kind is not capped."""
    return Cap(km=kind.cap.km, years=kind.cap.years)


def shortest(*caps: Cap | None) -> Cap:
    """The strictest of several caps, clock by clock (catalogue, vehicle, fitment); None counts as no cap."""
    given = [cap for cap in caps if cap is not None]
    km = [cap.km for cap in given if cap.km is not None]
    years = [cap.years for cap in given if cap.years is not None]
    return Cap(km=min(km, default=None), years=min(years, default=None))
