"""Lives in circumstances: what a keeper has told of a car, or of a part's grade, as a life of its own beside the kind's.

Such a life is named by its kind and the sorted ids of the modifiers that hold ("heat_soak short_trips"). It follows from the kind's
life in force by arithmetic, is stored beside it with a table of its own, and is found again until the kind's life is another.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from api.bridge import store
from api.bridge.in_force import models, tables
from api.bridge.in_force.effects import WITHOUT_BOOK, effects_of, fault_in, said_of
from api.bridge.in_force.terms import digest
from api.bridge.learning import repaired
from api.bridge.learning.cars_differ import KEY as DIFFER
from api.storage import dialect
from planner.catalogue import grades_of_parts, modifiers_of
from planner.life.modifiers.in_circumstances import life_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlmodel import Session

    from api.bridge.in_force.effects import Effect
    from api.bridge.in_force.models import InForce
    from api.bridge.in_force.terms import Terms
    from api.storage.tables import LifeModel
    from planner.catalogue import PartKind
    from planner.interval.tables import IntervalTable
    from planner.life.model import Life

USUAL = ""
"""Names the circumstances of whoever told none that bear on a part."""


def key_of(kind: str, circumstances: Sequence[str], grade: str | None) -> str:
    """Which modifiers bear on a part of a kind, as one text; "" where none does.

    Args:
        kind: of the part.
        circumstances: ids that the car names.
        grade: as the part's record gives it; one that the catalogue does not know changes nothing.
    """
    if not circumstances and grade is None:
        return USUAL
    own = grades_of_parts().get(grade or "")
    told = {*circumstances, *(() if own is None else (own.id,))}
    return " ".join(sorted(one.id for one in modifiers_of(kind) if one.id in told)) if told else USUAL


@dataclass(frozen=True)
class Derived:
    """A life in circumstances, worked out and not yet stored.

    Attributes:
        key: names the circumstances.
        life: of such parts.
        terms: the kind's, with what the book says of bad new parts of the grade.
        effects: what made it so.
        fingerprint: of everything that it is made from.
        usual: the kind's life, where no interval may be longer than its; None: any.
    """

    key: str
    life: Life
    terms: Terms
    effects: tuple[Effect, ...]
    fingerprint: str
    usual: Life | None

    def table(self) -> IntervalTable:
        """Its interval table, made once per process."""
        name = f"{self.fingerprint} {self.terms.fingerprint}"
        return tables.once(name, lambda: tables.make(self.life, self.terms, no_longer_than=self.usual))


def derived(kind: PartKind, key: str, terms: Terms, life: Life, whence: models.Whence) -> Derived | None:
    """The life of a kind in circumstances; None where they change nothing: the kind's own stands.

    Args:
        kind: the catalogue's entry.
        key: as `key_of` gives it.
        terms: in force for the kind.
        life: in force for the kind; one that was fitted without the book knows nothing of the book's modifiers.
        whence: what that life was made from, and what the records taught of multipliers.
    """
    if key == USUAL or life.prior is None:
        return None
    effects = effects_of(kind, life.clocks, key, whence.learnt)
    if not effects:
        return None
    said = [
        [one.multiplier.name, one.multiplier.clocks, one.multiplier.factor, one.low, one.high]
        for one in effects
    ]
    own = life_in(life, [one.multiplier for one in effects])
    fault = fault_in(effects, terms.costs.new_part_fault)
    fingerprint = digest(["in circumstances", whence.fingerprint, key, said, fault])
    return Derived(key, own, terms.with_fault(fault), effects, fingerprint, life if kind.safety else None)


class InCircumstances:
    """What is in force for parts in their circumstances, each worked out once."""

    def __init__(self, session: Session, fleet_id: str, usual: Mapping[str, InForce]) -> None:
        self._session, self._fleet_id, self._usual = session, fleet_id, usual
        self._known: dict[tuple[str, str], InForce] = {}

    def of(self, kind: str, circumstances: Sequence[str], grade: str | None) -> InForce:
        """What is in force for a part of a kind on a car."""
        key = key_of(kind, circumstances, grade)
        return self._usual[kind] if key == USUAL else self.named(kind, key)

    def named(self, kind: str, key: str) -> InForce:
        """The same by the name of the circumstances; the life and its table are stored where they are new."""
        if key == USUAL:
            return self._usual[kind]
        if (kind, key) not in self._known:
            self._known[kind, key] = _in_force(self._session, self._fleet_id, self._usual[kind], key)
        return self._known[kind, key]


def in_each(session: Session, fleet_id: str, kind: str, others: Sequence[str]) -> list[InForce]:
    """What is in force for a kind in the usual circumstances, and in some others."""
    lives = InCircumstances(session, fleet_id, models.in_force(session, fleet_id, [kind]))
    return [lives.named(kind, one) for one in (USUAL, *others)]


def _in_force(session: Session, fleet_id: str, usual: InForce, key: str) -> InForce:
    found = derived(usual.kind, key, usual.terms, usual.life, usual.whence)
    if found is None:
        said = WITHOUT_BOOK if usual.life.prior is None else said_of(usual.kind, key, ())
        return replace(usual, circumstances=key, said=said)
    row = _stored(session, fleet_id, usual, key, found)
    return replace(
        usual,
        terms=found.terms,
        model_id=row.id,
        life=models.life_of(row),
        table=tables.in_force(session, row, found.terms, found.table),
        differ=models.differ_of(row),
        circumstances=key,
        said=said_of(usual.kind, key, found.effects),
    )


def _stored(session: Session, fleet_id: str, usual: InForce, key: str, found: Derived) -> LifeModel:
    """The row of a life in circumstances; of two who come at once the second finds the first one's."""
    kind = usual.kind.id
    row = store.current_models(session, fleet_id, [kind], key).get(kind)
    if row is None or row.fingerprint != found.fingerprint:
        dialect.wait_for_turn(session, f"model {fleet_id} {kind}")
        row = store.current_models(session, fleet_id, [kind], key).get(kind)
    if row is not None and row.fingerprint == found.fingerprint:
        return row
    beside = {}
    if usual.whence.repairs:
        beside[repaired.KEY] = repaired.to_json(usual.whence.repairs)
    if usual.differ is not None:
        differ = usual.differ.under([one.multiplier for one in found.effects])
        beside[DIFFER] = differ.to_json()
    return models.store_model(
        session, fleet_id, kind, found.life, source=usual.source, fingerprint=found.fingerprint,
        circumstances=key, beside=beside,
    )  # fmt: skip
