"""The life and the interval table in force for each kind of a fleet, kept in this process once loaded."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any, Literal, cast

from api.bridge import store
from api.bridge.in_force import tables
from api.bridge.in_force.book_lives import LIFE_SCHEMA, book_fingerprint, book_life_of
from api.bridge.in_force.effects import Taught
from api.bridge.in_force.terms import Terms, terms_of
from api.bridge.kept import Kept
from api.bridge.learning import repaired
from api.bridge.learning.cars_differ import KEY as DIFFER
from api.bridge.learning.cars_differ import CarsDiffer
from api.fleets.store import discount_rate
from api.storage import dialect
from api.storage.tables import LifeModel
from planner.catalogue import load_catalogue
from planner.history.virtual_age import AS_OLD_AS_BEFORE, VirtualAge
from planner.life.model import Life

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from sqlmodel import Session

    from api.storage.tables import KindSettings
    from planner.catalogue import PartKind
    from planner.history.conversion import LeftOut
    from planner.interval.tables import IntervalTable
    from planner.life.repair_shares import RepairShare

Source = Literal["book", "fitted"]

COUNTS = "counts"
"""Where a stored life's content keeps how many parts of unknown day and shared complaints went into it."""

NEW_PARTS = "new_part_fault"
"""Where it keeps how many new parts are bad, as the fleet's records say; absent where they say nothing."""

TAUGHT = "circumstances"
"""Where it keeps what the records taught of multipliers on life; absent where they say nothing."""

BY_BOOK = "on_usual_clocks_by_book"
"""Where it keeps how many parts in circumstances were set on the usual clocks by the book's multipliers, nothing being learnt of theirs."""

MOST_LEFT_OUT_KEPT = 200
"""How many left-out histories are kept by name beside a life; all are counted."""


@dataclass(frozen=True)
class Whence:
    """Where lives in circumstances come from.

    Attributes:
        fingerprint: of what the kind's life was made from.
        learnt: what its records taught of multipliers on life, by modifier; the book speaks for the others.
        repairs: what each repair leaves of the wear, as its records say.
    """

    fingerprint: str
    learnt: Mapping[str, Taught] = field(default_factory=dict)
    repairs: Mapping[str, RepairShare] = field(default_factory=dict)


@dataclass(frozen=True)
class InForce:
    """What answers about one kind of one fleet rest on.

    Attributes:
        kind: the catalogue's entry.
        terms: costs, caps and limits.
        model_id: row of the life.
        source: "book" or "fitted".
        life: the life.
        table: intervals of that life on those terms.
        differ: how much the cars differ, where the records say so.
        own_car: the car whose own life this is; None: the kind's.
        repairs: how far repairs set back the clocks of such parts.
        whence: what the kind's life was made from, and what its records taught of circumstances.
        circumstances: in which such parts are, as `api.bridge.in_force.circumstances` names them; "": the usual ones.
        said: of the circumstances, the beginning of a reason; "" in the usual ones.
    """

    kind: PartKind
    terms: Terms
    model_id: str
    source: Source
    life: Life
    table: IntervalTable
    differ: CarsDiffer | None = None
    own_car: str | None = None
    repairs: VirtualAge = AS_OLD_AS_BEFORE
    whence: Whence = field(default_factory=lambda: Whence(""))
    circumstances: str = ""
    said: str = ""


_stored: Kept[Stored] = Kept(most=1000)


def in_force(session: Session, fleet_id: str, kinds: Collection[str]) -> dict[str, InForce]:
    """What is in force for each kind; the book's life and a table are stored for a kind that has none yet.

    Raises:
        UnknownPartKind: a kind that the catalogue does not hold.
    """
    settings = store.settings(session, fleet_id, kinds)
    discount = discount_rate(session, fleet_id)
    current = store.current_models(session, fleet_id, kinds)
    found = {}
    for name in sorted(kinds):
        kind = load_catalogue()[name]
        terms = terms_in_force(kind, settings.get(name), discount, current.get(name))
        row = current.get(name) or _store_book(session, fleet_id, kind, terms)
        life = life_of(row)
        table = tables.in_force(session, row, terms, partial(tables.made, row, life, terms))
        repairs = repaired.repairs_in_forecasts(repairs_of(row), life, safety=kind.safety)
        found[name] = InForce(
            kind, terms, row.id, source_of(row), life, table, differ_of(row), repairs=repairs, whence=whence_of(row)
        )  # fmt: skip
    return found


def terms_in_force(
    kind: PartKind, settings: KindSettings | None, discount: float, row: LifeModel | None
) -> Terms:
    """The terms of a kind in a fleet: its settings, its discount rate, and what its records teach of bad new parts.

    Args:
        kind: the catalogue's entry.
        settings: the fleet's own, if any.
        discount: the fleet's rate.
        row: the life in force; None where none is stored.
    """
    terms = terms_of(kind, settings, discount)
    return terms if row is None else terms.with_fault(fault_of(row))


def store_model(
    session: Session,
    fleet_id: str,
    kind: str,
    life: Life,
    *,
    source: Source,
    fingerprint: str,
    left_out: Sequence[LeftOut] = (),
    circumstances: str = "",
    beside: Mapping[str, Any] | None = None,
) -> LifeModel:
    """Put a life in force for a kind, in its circumstances; the one before stays stored and is no longer current.

    Args:
        session: a session that writes.
        fleet_id: whose life.
        kind: of which part kind.
        life: the life.
        source: "book" or "fitted".
        fingerprint: of what it was made from.
        left_out: histories that gave no row, and why; kept beside the life's own JSON.
        circumstances: in which such parts are; "": the usual ones.
        beside: what else is kept there.
    """
    for old in store.current_models(session, fleet_id, [kind], circumstances).values():
        old.current = False
        session.add(old)
    session.flush()
    row = LifeModel(
        fleet_id=fleet_id,
        kind=kind,
        circumstances=circumstances,
        source=source,
        content={**life.to_dict(), "left_out": _left_out(left_out), **(beside or {})},
        fingerprint=fingerprint,
        schema_number=LIFE_SCHEMA,
    )
    session.add(row)
    session.flush()
    return row


def _left_out(left_out: Sequence[LeftOut]) -> dict[str, Any]:
    named = [{"fitment_id": one.ref, "reason": one.reason} for one in left_out[:MOST_LEFT_OUT_KEPT]]
    return {"count": len(left_out), "named": named}


@dataclass(frozen=True)
class Stored:
    """A stored life and where it comes from."""

    life: Life
    source: Source
    new_part_fault: float | None = None
    differ: CarsDiffer | None = None
    repairs: dict[str, RepairShare] = field(default_factory=dict)
    taught: dict[str, Taught] = field(default_factory=dict)

    def on_car(self, vehicle_id: str) -> Life:
        """The life of a part on one car: its own where the car has earned a multiplier, else the kind's."""
        return (self.differ and self.differ.life_on(vehicle_id)) or self.life


def life_of(row: LifeModel) -> Life:
    """A stored life, loaded once per process."""
    return _of(row).life


def differ_of(row: LifeModel) -> CarsDiffer | None:
    """How much the fleet's cars differ; None where the records said nothing of it."""
    return _of(row).differ


def fault_of(row: LifeModel) -> float | None:
    """The chance of a bad new part that went with a stored life; None where the records said nothing of it."""
    return _of(row).new_part_fault


def repairs_of(row: LifeModel) -> dict[str, RepairShare]:
    """What each repair leaves of the wear, as the fleet's records say; empty where they say nothing of it."""
    return _of(row).repairs


def whence_of(row: LifeModel | None, book: str = "") -> Whence:
    """Where lives in circumstances come from: a stored life, or where none is stored the book's by its fingerprint."""
    return Whence(book) if row is None else Whence(row.fingerprint, _of(row).taught, _of(row).repairs)


def _of(row: LifeModel) -> Stored:
    def load() -> Stored:
        learnt = row.content.get(NEW_PARTS)
        return Stored(
            Life.from_dict(row.content),
            source_of(row),
            None if learnt is None else float(learnt["mean"]),
            CarsDiffer.from_json(row.content.get(DIFFER)),
            repaired.from_json(row.content.get(repaired.KEY)),
            {name: Taught.from_json(one) for name, one in row.content.get(TAUGHT, {}).items()},
        )

    return _stored.get(row.id, load)


def stored(session: Session, fleet_id: str, ids: Collection[str]) -> dict[str, Stored]:
    """Lives by their ids; read only where this process has not seen them yet."""
    missing = {model_id for model_id in ids if _stored.peek(model_id) is None}
    for row in store.models(session, fleet_id, missing) if missing else ():
        life_of(row)
    found = {model_id: _stored.peek(model_id) for model_id in ids}
    return {model_id: one for model_id, one in found.items() if one is not None}


def counts_of(row: LifeModel | None) -> dict[str, int]:
    """How many parts of unknown day were integrated over, and how many shared complaints weighed; 0 where nothing was kept."""
    kept = {} if row is None else row.content.get(COUNTS, {})
    return {name: int(kept.get(name, 0)) for name in ("integrated_over", "shared_events")}


def by_book_of(row: LifeModel | None) -> int:
    """How many parts in circumstances of their own went into a life by the book's multipliers."""
    return 0 if row is None else int(row.content.get(BY_BOOK, 0))


def source_of(row: LifeModel) -> Source:
    """Where a life comes from."""
    return cast("Source", row.source)


def book_of(name: str) -> Stored:
    """The book's life of a kind on the catalogue's clocks, for an answer whose own life is not stored."""
    return Stored(book_life_of(name, terms_of(load_catalogue()[name], None).clocks), "book")


def _store_book(session: Session, fleet_id: str, kind: PartKind, terms: Terms) -> LifeModel:
    """Store the book's life of a kind; of two who come at once the second finds the first one's."""
    dialect.wait_for_turn(session, f"model {fleet_id} {kind.id}")
    there = store.current_models(session, fleet_id, [kind.id]).get(kind.id)
    if there is not None:
        return there
    life = book_life_of(kind.id, terms.clocks)
    fingerprint = book_fingerprint(kind.id, terms.clocks)
    row = store_model(session, fleet_id, kind.id, life, source="book", fingerprint=fingerprint)
    tables.keep(session, row, terms, tables.of_book(kind.id, terms))
    return row
