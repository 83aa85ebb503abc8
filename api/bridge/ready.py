"""What a transaction that re-plans cars may need is made before it opens: a table takes half a second, and writers wait for one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge import models, store, tables
from api.fleets.store import discount_rate
from api.history.store import kinds_on_cars
from api.storage.session import reading
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from api.bridge.terms import Terms
    from api.storage.engine import Database
    from api.storage.tables import LifeModel
    from planner.life.model import Life


def make_ready(database: Database, fleet_id: str, kinds: Collection[str]) -> None:
    """Make the interval tables of kinds on a fleet's present terms, where they are neither stored nor made.

    Args:
        database: read in a transaction of its own.
        fleet_id: whose terms.
        kinds: which kinds; one that the catalogue does not hold is left to whoever refuses it.
    """
    of_book: list[tuple[str, Terms]] = []
    of_lives: list[tuple[LifeModel, Life, Terms]] = []
    with reading(database) as session:
        settings = store.settings(session, fleet_id, kinds)
        discount = discount_rate(session, fleet_id)
        current = store.current_models(session, fleet_id, kinds)
        for name in sorted(kind for kind in kinds if kind in load_catalogue()):
            row = current.get(name)
            terms = models.terms_in_force(load_catalogue()[name], settings.get(name), discount, row)
            if row is None:
                of_book.append((name, terms))
                continue
            if not tables.is_there(session, row, terms):
                of_lives.append((row, models.life_of(row), terms))
    for name, terms in of_book:
        tables.of_book(name, terms)
    for row, life, terms in of_lives:
        tables.make_ready(row, life, terms)


def ready_for_cars(database: Database, fleet_id: str, places: Sequence[str], *also: str) -> None:
    """The same for all kinds on some cars.

    Args:
        database: read in transactions of its own.
        fleet_id: whose cars.
        places: ids of cars, or of parts on them.
        also: further kinds.
    """
    with reading(database) as session:
        kinds = kinds_on_cars(session, fleet_id, places)
    make_ready(database, fleet_id, {*kinds, *also})
