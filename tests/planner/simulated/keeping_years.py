"""Years of keeping under one policy: each New Year the plan is dated anew, failures come when they come."""

from dataclasses import dataclass, field

import numpy as np


@dataclass(eq=False)
class Fleet:
    """What is on the cars: when each position's part was fitted, the so-manyth it is, and when it will fail."""

    fitted: np.ndarray
    number: np.ndarray
    fails: np.ndarray

    @classmethod
    def new(cls, world):
        every = np.arange(len(world.car))
        fitted, number = np.zeros(len(every)), np.zeros(len(every), dtype=int)
        return cls(fitted, number, world.fails_at(every, fitted, number))

    def copy(self):
        return Fleet(self.fitted.copy(), self.number.copy(), self.fails.copy())


@dataclass(eq=False)
class Log:
    """Every life that ended: position, fitted, ended, and whether by failure; arrays after `closed`."""

    position: list = field(default_factory=list)
    fitted: list = field(default_factory=list)
    ended: list = field(default_factory=list)
    failed: list = field(default_factory=list)

    def add(self, position, fitted, ended, failed):
        for name, values in zip(
            ("position", "fitted", "ended", "failed"), (position, fitted, ended, failed), strict=True
        ):
            getattr(self, name).append(values)

    def closed(self):
        return Log(
            *(np.concatenate(getattr(self, name)) for name in ("position", "fitted", "ended", "failed"))
        )


def keep(world, state, policy, first, last):
    """Keep the fleet from New Year of one year to New Year of another; (its state then, the log).

    Args:
        world: the truth.
        state: of the fleet at the start; it is not changed.
        policy: anything with `due(world, position, fitted, now)`: when each part is to be renewed as seen from `now`.
        first: year in which keeping starts.
        last: year before whose start it ends.
    """
    state, log, every = state.copy(), Log(), np.arange(len(world.car))
    none = np.zeros(0)
    log.add(none.astype(int), none, none, none.astype(bool))
    for year in range(first, last):
        now = np.full(len(every), float(year))
        due = policy.due(world, every, state.fitted, now)
        while True:
            event = np.minimum(state.fails, np.maximum(due, now))
            hit = np.flatnonzero(event < year + 1)
            if not len(hit):
                break
            at = event[hit]
            log.add(hit, state.fitted[hit], at, state.fails[hit] <= due[hit])
            state.number[hit] += 1
            state.fitted[hit], now[hit] = at, at
            state.fails[hit] = world.fails_at(hit, at, state.number[hit])
            due[hit] = policy.due(world, hit, at, at)
    return state, log.closed()
