"""Failures in a part's first kilometres or days, set apart from wear: for a life of sound parts, and for how many are bad from new."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import SpellError
from planner.history.spell_columns import ClockBounds, frozen
from planner.history.spells import Spells

if TYPE_CHECKING:
    from planner.history.spells import BoolArray, FloatArray

SPAN = {"distance": 2_000.0, "age": 0.25}
"""Within so many km (years where age is the only clock) a part that was bad from new shows itself (expert judgement)."""

LONGEST = 1.0
"""Years after which a part is no longer new, however little its car was driven (expert judgement)."""

_AT_ONCE = (1.0, 1.0 / 365.25)
"""Where a part stands on its clocks that failed within days of its fitting, in km and years: records are kept in whole ones."""


def span_of(spells: Spells) -> float:
    """The first stretch of these spells' first clock, in its unit."""
    return SPAN[spells.clocks[0]]


def early(spells: Spells, span: float) -> BoolArray:
    """Rows watched from new that failed within the span, and on two clocks within a year: a slow car's span takes longer."""
    found: BoolArray = spells.from_new & ~spells.censored & (shown(spells, span)[1] <= 1.0)
    return found


def shown(spells: Spells, span: float) -> tuple[FloatArray, FloatArray]:
    """How much of the first stretch a part has behind it at the lower and at the upper bound of each row; 1: all of it.

    On two clocks the stretch ends at the span in km or after a year, whichever comes first.
    """
    lower, upper = (getattr(spells.bounds[0], name) / span for name in ("lower", "upper"))
    if len(spells.clocks) == 2:
        years = spells.bounds[1]
        lower, upper = np.maximum(lower, years.lower / LONGEST), np.maximum(upper, years.upper / LONGEST)
    return lower, upper


def early_as_censored(spells: Spells, span: float) -> Spells:
    """The same rows, those that failed early counted as good so far: what a life of sound parts is fitted to."""
    gone = early(spells, span)
    bounds = [
        ClockBounds(b.entry, b.lower, frozen(np.where(gone, np.inf, b.upper))) if gone.any() else b
        for b in spells.bounds
    ]
    by_clock = dict(zip(spells.clocks, bounds, strict=True))
    rate = spells.km_per_year
    kept = None if rate is None else frozen(np.where(gone, np.nan, rate))
    return Spells(by_clock.get("distance"), by_clock.get("age"), spells.weight, kept)


def failed_at_once(clocks: tuple[str, ...], weight: float) -> Spells:
    """Parts that failed within days of their fitting, as one row of so much weight.

    Raises:
        SpellError: no clock, or a weight not above 0.
    """
    km, years = _AT_ONCE
    if clocks == ("distance", "age"):
        return Spells.on_both([km], [km], [years], [years], weight=weight)
    if clocks == ("distance",):
        return Spells.on_distance([km], [km], weight=weight)
    if clocks == ("age",):
        return Spells.on_age([years], [years], weight=weight)
    raise SpellError("clocks", "distance, age or both", clocks)
