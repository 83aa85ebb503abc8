"""How much a fleet's cars differ in what they do to parts of one kind, and the multiplier that each has earned.

Learnt from parts watched since they were new, row by row, together with a life of its own at Z = 1: the life of the kind has
averaged over the cars already and is never multiplied. Parts that came with the car, of unknown day or renewed together with
others stay out: what died on the same cars before they were watched is not known, and left out it would make bad cars look sound.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.catalogue import load_catalogue
from planner.errors import FitError
from planner.life.cars.frailty import fit_with_cars
from planner.life.cars.times_life import life_times
from planner.life.model import Life
from planner.life.modifiers.in_circumstances import life_in
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from api.bridge.in_force.terms import Terms
    from api.bridge.learning.learn import Learnt
    from planner.life.modifiers.in_circumstances import Multiplier

KEY = "cars_differ"
"""Where it stands in a stored life's content."""

MOST_ROWS = 3_000
"""Above so many rows nothing is learnt of single cars: these rows cannot be counted in cells."""

LEAST_FAILURES, LEAST_CARS = 5.0, 5
"""With fewer the spread between cars would be all prior."""

NOTABLE = (0.8, 1.25)
"""A car whose multiplier lies between these goes by the life of its kind."""

MOST_CARS = 1_000
"""How many cars are kept by name, those that differ most."""


@dataclass(frozen=True)
class CarsDiffer:
    """What is stored of it.

    Attributes:
        life: of a part on a car with Z = 1.
        spread: standard deviation of Z between cars.
        parts, failures, cars: what it was learnt from.
        multipliers: by car: mean, low, high, failures, expected, words, range_words; only those that are notable.
    """

    life: Life
    spread: float
    parts: int
    failures: float
    cars: int
    multipliers: Mapping[str, dict[str, Any]]

    @classmethod
    def from_json(cls, content: Mapping[str, Any] | None) -> CarsDiffer | None:
        """What `to_json` wrote; None where nothing was kept."""
        return None if content is None else cls(**{**content, "life": Life.from_dict(content["life"])})

    def to_json(self) -> dict[str, Any]:
        """As a stored life's content keeps it."""
        return {**vars(self), "life": self.life.to_dict()}

    def under(self, multipliers: Sequence[Multiplier]) -> CarsDiffer:
        """The same for parts in circumstances that multiply their lives."""
        return replace(self, life=life_in(self.life, multipliers))

    def life_on(self, vehicle_id: str) -> Life | None:
        """The life of a part on one car; None where the car is like the others."""
        one = self.multipliers.get(vehicle_id)
        return None if one is None else life_times(self.life, one["mean"], one["low"], one["high"])


def cars_differ(kind: str, terms: Terms, learnt: Learnt, *, seed: int, draws: int) -> CarsDiffer | None:
    """Learn it; None where the records are too few or too many, or no prior is wanted.

    Args:
        kind: of which part.
        terms: whether the book's expectation counts.
        learnt: what the records say.
        seed: of the random numbers behind the draws.
        draws: how many.
    """
    spells, cars = learnt.spells, learnt.cars
    if spells is None or terms.prior == "none":
        return None
    new = spells.from_new
    if not new.any() or new.sum() > MOST_ROWS:
        return None
    rows, names = spells.take(new), cars[new]
    failures = float(rows.weight[~rows.censored].sum())
    ids, number = np.unique(names, return_inverse=True)
    if failures < LEAST_FAILURES or len(ids) < LEAST_CARS or len(ids) == len(rows):
        return None
    prior = book_prior(load_catalogue()[kind], terms.clocks)
    try:
        fit = fit_with_cars(rows, number, prior, seed=seed, draws=draws)
    except FitError:
        return None
    found = {}
    for i, vehicle_id in enumerate(ids):
        one = fit.multiplier(rows.take(number == i))
        if not NOTABLE[0] < one.mean < NOTABLE[1]:
            found[str(vehicle_id)] = {**asdict(one), "words": one.words, "range_words": one.range_words}
    most = sorted(found.items(), key=lambda item: -abs(np.log(item[1]["mean"])))[:MOST_CARS]
    return CarsDiffer(fit.life, fit.spread, len(rows), failures, len(ids), dict(most))
