"""The lives that the catalogue believes in, drawn once per process, and what they are made from."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from api.bridge.in_force.terms import digest
from planner.catalogue import load_catalogue
from planner.life.fit import book_life
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from planner.history.spells import Clock
    from planner.life.model import Life

LIFE_SCHEMA = 1
"""Number of the planner's JSON for lives, as stored in ``life_model.schema_number``."""

BOOK_SEED = 1
BOOK_DRAWS = 400


@lru_cache(maxsize=200)
def book_life_of(kind: str, clocks: tuple[Clock, ...]) -> Life:
    """The life that the catalogue believes in, on these clocks; drawn once per process, no fit."""
    return book_life(book_prior(load_catalogue()[kind], clocks), seed=BOOK_SEED, draws=BOOK_DRAWS)


def book_fingerprint(kind: str, clocks: tuple[Clock, ...]) -> str:
    """Of what a book life is made from."""
    entry = load_catalogue()[kind]
    return digest(
        ["book", kind, clocks, repr(entry.distance), repr(entry.age), BOOK_SEED, BOOK_DRAWS, LIFE_SCHEMA]
    )
