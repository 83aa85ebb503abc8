"""The chance that parts in service fail by the end of each month ahead, for a whole fleet at once."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

from api.bridge.forecasts.road import drawn_again
from api.bridge.forecasts.unknown_age import fails_ahead
from planner.risk import fails_by_month, month_ends
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray

    from api.bridge.forecasts.outlook import Outlook

    Array = NDArray[np.float64]


def fails_by_months(parts: Sequence[Outlook], as_of: date, months: int) -> dict[str, Array]:
    """Chance of having failed by the end of each calendar month, given good on the day; by fitment id, (draws, months).

    A fitted life knows that its parts are good; a book's draws are drawn again in proportion to the chance that the part
    has come so far. A part of unknown age is averaged over its possible fitting days. One found worn or failed fails at
    once.

    Args:
        parts: of one fleet.
        as_of: the day.
        months: how many calendar months, the present one included.
    """
    found: dict[str, Array] = {}
    by_life: dict[int, list[Outlook]] = defaultdict(list)
    for one in parts:
        if one.kept.since.found_bad is not None:
            found[one.row.fitment_id] = np.ones((1, months))
        elif one.kept.since.age_unknown:
            found[one.row.fitment_id] = _unknown(one, as_of, months)
        else:
            by_life[id(one.stored.life)].append(one)
    for own in by_life.values():
        found |= _known(own, as_of, months)
    return found


def _known(parts: Sequence[Outlook], as_of: date, months: int) -> dict[str, Array]:
    stored = parts[0].stored
    km, years = np.array([one.worn for one in parts]).T
    ends = month_ends(as_of, months)
    driven = np.array([[one.kept.km_between((as_of, end), one.row.as_of) for end in ends] for one in parts])
    fails = fails_by_month(stored.life, km=km, years=years, km_ahead=driven, today=as_of, months=months)
    if stored.source == "fitted":
        return {one.row.fitment_id: fails[:, place] for place, one in enumerate(parts)}
    clocks = {"distance": ("km", km), "age": ("years", years)}
    used = stored.life.cumulative_hazard_draws(**dict(clocks[name] for name in stored.life.clocks))
    return {
        one.row.fitment_id: drawn_again(fails[:, place], np.exp(-(used[:, place] - used[:, place].min())))
        for place, one in enumerate(parts)
    }


def _unknown(one: Outlook, as_of: date, months: int) -> Array:
    now = as_of, one.odometer_km
    columns, total = [], np.ones(1)
    for end in month_ends(as_of, months):
        years = (end - as_of).days / DAYS_PER_YEAR
        driven = one.kept.km_between((as_of, end), one.row.as_of)
        fails, weights = fails_ahead(one.stored.life, one.kept.since, now, (driven, years))
        total = weights.sum(axis=0)
        columns.append((weights * fails).sum(axis=0) / total)
    return np.maximum.accumulate(drawn_again(np.stack(columns, axis=1), total), axis=1)
