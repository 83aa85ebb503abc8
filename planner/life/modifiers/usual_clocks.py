"""Rows of parts in circumstances on the clocks that they would show in the usual ones: each clock divided by its multiplier on life.

The virtual clock of accelerated life, ∫exp(-x·γ)da, for a setting that held all along. Where the multiplier is known there is nothing to
fit; the likelihood changes by a constant only. (Nelson 1990, Accelerated Testing; Lawless 2003, section 6.3.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import numbers
from planner.errors import InputError, SpellError
from planner.history.spell_columns import ClockBounds, frozen
from planner.history.spells import Spells

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import FloatArray


def on_usual_clocks(spells: Spells, factors: ArrayLike) -> Spells:
    """The same rows with every clock divided by the multiplier on life that held for it.

    Args:
        spells: of one kind.
        factors: the multiplier on each clock of the spells, 1 in the usual circumstances, (rows, clocks).

    Raises:
        SpellError: no spells.
        InputError: not one finite number above 0 for every row and clock.
    """
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells, row by row", spells)
    wanted = f"numbers above 0, {len(spells)} by {len(spells.clocks)}"
    by = numbers("factors", factors, wanted)
    if by.shape != (len(spells), len(spells.clocks)) or not (np.isfinite(by) & (by > 0)).all():
        raise InputError("factors", wanted, factors)
    if (by == 1.0).all():
        return spells
    divided = dict(
        zip(spells.clocks, (_divided(b, by[:, c]) for c, b in enumerate(spells.bounds)), strict=True)
    )
    rate = spells.km_per_year
    if rate is not None:
        rate = frozen(rate * by[:, 1] / by[:, 0])
    return Spells(divided.get("distance"), divided.get("age"), spells.weight, rate)


def _divided(bounds: ClockBounds, by: FloatArray) -> ClockBounds:
    return ClockBounds(*(frozen(side / by) for side in (bounds.entry, bounds.lower, bounds.upper)))
