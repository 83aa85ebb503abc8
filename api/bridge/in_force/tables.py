"""Interval tables of lives on terms: stored beside the life, kept in this process, and made before a transaction that needs them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from api.bridge import store
from api.bridge.in_force.book_lives import book_fingerprint, book_life_of
from api.bridge.kept import Kept
from api.storage import dialect
from api.storage.tables import IntervalTable as TableRow
from planner.interval.tables import IntervalTable, interval_table
from planner.interval.ways import ways_table

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from api.storage.tables import LifeModel
    from planner.life.model import Life

_stored: Kept[IntervalTable] = Kept(most=1000)
_made: Kept[IntervalTable] = Kept(most=500)
_of_books: Kept[IntervalTable] = Kept(most=500)


def make(life: Life, terms: Terms, *, no_longer_than: Life | None = None) -> IntervalTable:
    """The interval table of a life on these terms.

    Args:
        life: of the parts.
        terms: costs, caps and limits.
        no_longer_than: a life whose intervals are never exceeded; None: none.
    """

    def intervals(of: Life) -> IntervalTable:
        return interval_table(
            of, terms.costs, cap=terms.cap, max_risk=terms.max_risk, discount=terms.discount
        )

    ways = ways_table(life, terms.costs, checking=terms.checking, thumb=terms.thumb, discount=terms.discount)
    usual = None if no_longer_than is None else intervals(no_longer_than)
    return replace(intervals(life), ways=ways, no_longer_than=usual)


def keep(session: Session, model: LifeModel, terms: Terms, table: IntervalTable) -> TableRow:
    """Keep an interval table beside its model."""
    row = TableRow(
        fleet_id=model.fleet_id, model_id=model.id, content=table.to_dict(), fingerprint=terms.fingerprint
    )
    session.add(row)
    session.flush()
    return row


def stored(session: Session, fleet_id: str, model_id: str, fingerprint: str) -> IntervalTable | None:
    """The stored interval table of a model on some terms, loaded once per process; None if it is not stored."""
    key = f"{model_id} {fingerprint}"
    there = _stored.peek(key)
    if there is not None:
        return there
    row = store.interval_table(session, fleet_id, model_id, fingerprint)
    return None if row is None else _stored.get(key, lambda: IntervalTable.from_dict(row.content))


def of_book(kind: str, terms: Terms) -> IntervalTable:
    """The interval table of a book life on these terms; made once per process."""
    life, fingerprint = book_life_of(kind, terms.clocks), book_fingerprint(kind, terms.clocks)
    return _of_books.get(f"{fingerprint} {terms.fingerprint}", lambda: make(life, terms))


def in_force(
    session: Session, row: LifeModel, terms: Terms, make_it: Callable[[], IntervalTable]
) -> IntervalTable:
    """The stored table of a model on these terms; stored where the terms are new, and made where nobody made it ready.

    Args:
        session: a session that writes.
        row: the model.
        terms: costs, caps and limits.
        make_it: gives the table, made ready or made now.
    """

    def load_or_make() -> IntervalTable:
        there = _there(session, row, terms)
        if there is None:
            dialect.wait_for_turn(session, f"model {row.fleet_id} {row.kind}")
            there = _there(session, row, terms)
        if there is not None:
            return there
        made_now = make_it()
        keep(session, row, terms, made_now)
        return made_now

    return _stored.get(_key(row, terms), load_or_make)


def made(row: LifeModel, life: Life, terms: Terms) -> IntervalTable:
    """The table of a stored life on these terms, made once per process."""
    return once(_key(row, terms), lambda: make(life, terms))


def once(name: str, make_it: Callable[[], IntervalTable]) -> IntervalTable:
    """A table by the name of what it is made from, made once per process."""
    return _made.get(name, make_it)


def is_there(session: Session, row: LifeModel, terms: Terms) -> bool:
    """Whether a table is stored, or made already."""
    key = _key(row, terms)
    known = _stored.peek(key) is not None or _made.peek(key) is not None
    return known or _there(session, row, terms) is not None


def _key(row: LifeModel, terms: Terms) -> str:
    return f"{row.id} {terms.fingerprint}"


def _there(session: Session, row: LifeModel, terms: Terms) -> IntervalTable | None:
    found = store.interval_table(session, row.fleet_id, row.id, terms.fingerprint)
    return None if found is None else IntervalTable.from_dict(found.content)
