"""The records that the past leaves: one spell per part, seen since records began."""

import numpy as np

from planner import Spells
from tests.planner.simulated.keeping_world import PAST, SEEN


def spells_of(world, log, state, kind, *, on_km=False):
    """Spells of one kind, from the lives that ended since records began and the parts in service today.

    A part fitted before records began enters at its clocks then (delayed entry); one renewed early or still in service
    is right-censored; one bad from the shelf is known for what it is and is no life.
    """
    position, fitted, ended, failed = _lives(world, log, state, kind)
    entered = np.maximum(fitted, PAST - SEEN)
    ran = [world.odometer(position, at) - world.odometer(position, fitted) for at in (entered, ended)]
    aged = [entered - fitted, ended - fitted]
    km = {"entry": ran[0], "lower": ran[1], "upper": np.where(failed, ran[1], np.inf)}
    years = {"entry": aged[0], "lower": aged[1], "upper": np.where(failed, aged[1], np.inf)}
    if on_km or world.kinds[kind].age is None:
        return Spells.on_distance(**km)
    if world.kinds[kind].distance is None:
        return Spells.on_age(**years)
    local = world.yearly[world.car[position], np.minimum(ended.astype(int), world.yearly.shape[1] - 1)]
    both = {f"km_{name}": value for name, value in km.items()}
    both |= {f"years_{name}": value for name, value in years.items()}
    return Spells.on_both(**both, km_per_year=local)


def _lives(world, log, state, kind):
    own = (world.kind[log.position] == kind) & (log.ended > PAST - SEEN) & (log.ended > log.fitted)
    now = np.flatnonzero((world.kind == kind) & (state.fitted < PAST))
    return (
        np.concatenate((log.position[own], now)),
        np.concatenate((log.fitted[own], state.fitted[now])),
        np.concatenate((log.ended[own], np.full(len(now), float(PAST)))),
        np.concatenate((log.failed[own], np.zeros(len(now), dtype=bool))),
    )
