"""Distance units of the trade: kilometres inside, kilometres or miles at the door."""

from __future__ import annotations

from typing import Literal

DistanceUnit = Literal["km", "mi"]

KM_PER_MILE = 1.609344
"""Exact: the international mile (International Yard and Pound Agreement, 1959)."""

DAYS_PER_YEAR = 365.25
"""Mean Julian year; ages in years are days divided by this."""


def to_km(value: float, unit: DistanceUnit) -> float:
    """Convert a distance to kilometres (exact for miles)."""
    return value * KM_PER_MILE if unit == "mi" else value


def from_km(km: float, unit: DistanceUnit) -> float:
    """Convert kilometres to the unit that the keeper reads."""
    return km / KM_PER_MILE if unit == "mi" else km
