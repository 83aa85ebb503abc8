"""A renewal brought forward to today: what of its cost would be spent before long in any case."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.interval import cost_of_waiting, marginal_cost
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from datetime import date

    from planner.schedule.due import DueWindow
    from planner.schedule.plan import PlannedPart
    from planner.usage import Usage


def value_brought_forward(part: PlannedPart, usage: Usage, window: DueWindow, today: date) -> float:
    """What a renewal today saves of the planned renewal that it takes the place of.

    The planned cost less P(Δ), what moving the renewal from its own best day to today costs (Wildeman, Dekker & Smit 1997): all of
    it where the day has come, the less the longer the part would still have served.

    Args:
        part: as a plan takes it; known to be good apart from this question.
        usage: how its car is driven.
        window: when it is due.
        today: the day.

    Returns:
        From 0 to the planned cost, in its currency.
    """
    moved = cost_of_waiting(
        part.life,
        part.costs,
        worth(part, usage, window, today),
        [0.0],
        km=part.km,
        years=part.years,
        km_per_year=usage.km_per_year,
        max_risk=part.max_risk,
        cap=part.cap,
        survived_counts=part.survived_counts,
    )
    return max(part.costs.planned - float(moved[0]), 0.0)


def worth(part: PlannedPart, usage: Usage, window: DueWindow, today: date) -> float:
    """What the successor is worth a year, such that waiting for the likely day of the list is best: both agree.

    Where a limit decides, or the day is past, it is what the successor costs, so that waiting costs from the first week.
    """
    cost = part.interval.cost_per_year
    if window.likely is None or window.decides not in {"distance", "age"}:
        return cost
    wait = max(0.0, (window.likely - today).days / DAYS_PER_YEAR)
    found = marginal_cost(
        part.life,
        part.costs,
        wait,
        km=part.km,
        years=part.years,
        km_per_year=usage.km_per_year,
        survived_counts=part.survived_counts,
    )
    if not 0.0 < found < math.inf:
        return cost
    return found if wait > 0 else min(found, cost)
