"""What is in force for one car: its kind's life and interval, or its own where the records say that it eats parts or spares them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.interval import best_interval

if TYPE_CHECKING:
    from api.bridge.in_force.models import InForce
    from planner.interval import Interval

_THINNED = 4
"""Every so many draws of a car's own life go into its interval, which is worked out while somebody waits."""


def on_car(force: InForce, vehicle_id: str) -> InForce:
    """The same with the car's own life, where it has earned one."""
    own = None if force.differ is None else force.differ.life_on(vehicle_id)
    return force if own is None else replace(force, life=own, own_car=vehicle_id)


def interval_of(force: InForce, rate: float) -> Interval:
    """The interval of a new part at a yearly distance: from the table, or for a car of its own worked out."""
    if force.own_car is None:
        return force.table.at(rate)
    thinned = replace(force.life, draws=force.life.draws[::_THINNED])
    terms = force.terms
    return best_interval(
        thinned,
        terms.costs,
        km_per_year=rate,
        max_risk=terms.max_risk,
        cap=terms.cap,
        discount=terms.discount,
    )


def said_of(force: InForce) -> str:
    """What is told of the car, and how it differs, for the reason; nothing where it is like the others."""
    if force.own_car is None or force.differ is None:
        return force.said
    one = force.differ.multipliers[force.own_car]
    does = "eats such parts" if one["mean"] > 1 else "is easy on such parts"
    return f"{force.said}This car {does}: {one['words']}. "
