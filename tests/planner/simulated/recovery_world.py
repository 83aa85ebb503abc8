"""Fleets of one part kind whose two-clock life is drawn from the prior: what their records say, and what is true.

40 % of the parts came under observation late (rows are counted after truncation: a part that had failed by then was
never seen), and about 70 % are still good at the last look. Cars differ in their yearly distance, and one bought used
is driven differently than before.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner import ClockPrior, LifePrior, Spells

PRIOR = LifePrior(distance=ClockPrior(30_000, 60_000), age=ClockPrior(6, 12))
LATE = 0.4
YEARS_WATCHED = 4.0
_KM_PER_YEAR, _CARS_APART, _OWNERS_APART = 6_000.0, 0.5, 0.3
_OLDEST_ENTRY = 10.0


@dataclass(frozen=True)
class Fleet:
    """What is true of a fleet: (ln shape, ln scale) of km and years, and the yearly km of the car to plan for."""

    truth: np.ndarray
    km_per_year: float
    spells: Spells


def prior_off_by(factor: float) -> LifePrior:
    """The prior with both scales off by a factor."""
    clocks = (PRIOR.distance, PRIOR.age)
    return LifePrior(*(ClockPrior(c.p10 * factor, c.p50 * factor) for c in clocks))


def fleet(number: int, histories: int, truth: np.ndarray | None = None) -> Fleet:
    """A fleet by its number; the truth is drawn from the prior where none is given."""
    random = np.random.default_rng([20261, histories, number])
    drawn = PRIOR.mean + PRIOR.spread * random.standard_normal(4)
    truth = drawn if truth is None else truth
    km_per_year = _KM_PER_YEAR * math.exp(_CARS_APART * random.standard_normal())
    return Fleet(truth, km_per_year, _records(truth, histories, random))


def _records(truth: np.ndarray, histories: int, random: np.random.Generator) -> Spells:
    late = random.random(histories) < LATE
    found = np.zeros((histories, 4))
    missing = np.arange(histories)
    while len(missing):
        drawn = _parts(truth, late[missing], random)
        alive = drawn[:, 0] > drawn[:, 1]
        found[missing[alive]] = drawn[alive]
        missing = missing[~alive]
    fails, entry, before, after = found.T
    watched = entry + random.exponential(YEARS_WATCHED, histories)
    end = np.minimum(fails, watched)
    km = entry * before + (end - entry) * after
    open_end = fails > watched
    upper = [np.where(open_end, np.inf, values) for values in (km, end)]
    return Spells.on_both(km, upper[0], end, upper[1], entry * before, entry, km_per_year=after)


def _parts(truth: np.ndarray, late: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Age at failure, age at entry, yearly distance before and after entry of new parts (n, 4)."""
    count = len(late)
    before = _KM_PER_YEAR * np.exp(_CARS_APART * random.standard_normal(count))
    after = before * np.exp(_OWNERS_APART * random.standard_normal(count))
    entry = np.where(late, random.uniform(0, _OLDEST_ENTRY, count), 0.0)
    km_life, age_life = (
        np.exp(truth[2 * c + 1]) * random.exponential(size=count) ** np.exp(-truth[2 * c]) for c in (0, 1)
    )
    by_distance = np.where(
        km_life < entry * before, km_life / before, entry + (km_life - entry * before) / after
    )
    return np.stack([np.minimum(by_distance, age_life), entry, before, after], axis=1)
