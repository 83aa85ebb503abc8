"""Whether somebody is under observation all the way: where everybody has gone before others come, a curve without a law breaks off.

Source: Lawless 2003, Statistical Models and Methods for Lifetime Data, section 3.5 (small risk sets under delayed entry; from memory).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.history.spells import FloatArray


def nobody_left(entry: FloatArray, end: FloatArray) -> float | None:
    """The first reading after which no part is left, while others come under observation there or later; None mostly.

    Args:
        entry: when each part came under observation, (n,).
        end: when it went or was last seen good, (n,).
    """
    at = np.unique(end)[:-1]
    from_new = np.where(entry > 0, entry, -1.0)  # at risk at 0 too
    entered = np.searchsorted(np.sort(from_new), at, side="left")
    gone = np.searchsorted(np.sort(end), at, side="right")
    empty = at[entered <= gone]
    return float(empty[0]) if empty.size else None
