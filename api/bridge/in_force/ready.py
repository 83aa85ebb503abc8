"""What a transaction that re-plans cars may need is made before it opens: a table takes half a second, and writers wait for one another."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from api.bridge import store
from api.bridge.in_force import models, tables
from api.bridge.in_force.book_lives import book_fingerprint, book_life_of
from api.bridge.in_force.circumstances import USUAL, derived, key_of
from api.fleets.store import discount_rate
from api.history.store import OnCar, parts_on_cars
from api.storage.session import reading
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence

    from sqlmodel import Session

    from api.bridge.in_force.circumstances import Derived
    from api.storage.engine import Database
    from planner.interval.tables import IntervalTable


def make_ready(
    database: Database,
    fleet_id: str,
    kinds: Collection[str],
    in_circumstances: Collection[tuple[str, str]] = (),
) -> None:
    """Make the interval tables of kinds on a fleet's present terms, where they are neither stored nor made.

    Args:
        database: read in a transaction of its own.
        fleet_id: whose terms.
        kinds: which kinds; one that the catalogue does not hold is left to whoever refuses it.
        in_circumstances: some of them with the circumstances of parts, for which tables are made as well.
    """
    to_make: list[Callable[[], IntervalTable]] = []
    with reading(database) as session:
        settings = store.settings(session, fleet_id, kinds)
        discount = discount_rate(session, fleet_id)
        current = store.current_models(session, fleet_id, kinds)
        for name in sorted(kind for kind in kinds if kind in load_catalogue()):
            row = current.get(name)
            kind = load_catalogue()[name]
            terms = models.terms_in_force(kind, settings.get(name), discount, row)
            others = {key for on, key in in_circumstances if on == name and key != USUAL}
            life = book_life_of(name, terms.clocks) if row is None else models.life_of(row)
            whence = models.whence_of(row, book_fingerprint(name, terms.clocks))
            if row is None:
                to_make.append(partial(tables.of_book, name, terms))
            elif not tables.is_there(session, row, terms):
                to_make.append(partial(tables.made, row, life, terms))
            to_make += [
                one.table
                for one in (derived(kind, key, terms, life, whence) for key in sorted(others))
                if one is not None and not _stored(session, fleet_id, name, one)
            ]
    for make in to_make:
        make()


def _stored(session: Session, fleet_id: str, kind: str, found: Derived) -> bool:
    """Whether the table of a life in circumstances is stored already."""
    row = store.current_models(session, fleet_id, [kind], found.key).get(kind)
    return (
        row is not None
        and row.fingerprint == found.fingerprint
        and tables.is_there(session, row, found.terms)
    )


@dataclass(frozen=True)
class Coming:
    """What a request is about to change of what is in force for a car's parts.

    Attributes:
        circumstances: that the car is about to have; None: those that it has.
        fitting: the car, kind and grade of a part about to be fitted; None: none.
        onto: the car onto which the parts are about to move; None: they stay.
    """

    circumstances: Sequence[str] | None = None
    onto: str | None = None
    fitting: tuple[str, str, str | None] | None = None


NOTHING_COMING = Coming()


def ready_for_cars(
    database: Database, fleet_id: str, places: Sequence[str], coming: Coming = NOTHING_COMING
) -> None:
    """The same for all parts on some cars.

    Args:
        database: read in transactions of its own.
        fleet_id: whose cars.
        places: ids of cars, or of parts on them.
        coming: what is about to be another there.
    """
    told = coming.circumstances
    with reading(database) as session:
        parts = parts_on_cars(session, fleet_id, places)
        if coming.onto is not None:
            told = _told(session, fleet_id, coming.onto)
        if coming.fitting is not None:
            car, kind, grade = coming.fitting
            parts.append(OnCar(kind, grade, _told(session, fleet_id, car)))
    lived = {
        (one.kind, key_of(one.kind, one.circumstances if told is None else told, one.grade))
        for one in parts
        if one.kind in load_catalogue()
    }
    make_ready(database, fleet_id, {one.kind for one in parts}, lived)


def _told(session: Session, fleet_id: str, car: str) -> list[str]:
    """The circumstances of a car; none of one that is not there, which somebody else refuses."""
    return [name for row in store.vehicles(session, fleet_id, [car]) for name in row.circumstances]
