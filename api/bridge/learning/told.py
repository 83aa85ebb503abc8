"""What keepers told of the parts that a refit learns from: which modifiers bear on each row, and its clocks in the usual circumstances."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from api.bridge.in_force.circumstances import key_of
from planner.catalogue import load_modifiers
from planner.life.modifiers.usual_clocks import on_usual_clocks
from planner.life.modifiers.values import Modifier, bears_on, book_modifiers

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from api.bridge.gather import Car
    from api.bridge.learning.masked import Masked
    from planner.catalogue import PartKind
    from planner.history.spells import Clock, FloatArray
    from planner.history.undated import UndatedSpells


@dataclass(frozen=True)
class Told:
    """The modifiers that can bear on parts of one kind.

    Attributes:
        kind: of the parts.
        clocks: of the fit.
        modifiers: on those clocks; none where nothing of the book is wanted.
    """

    kind: str
    clocks: tuple[Clock, ...]
    modifiers: tuple[Modifier, ...]

    @classmethod
    def of(cls, kind: PartKind, clocks: tuple[Clock, ...], *, book: bool) -> Told:
        """Those that the catalogue knows for a kind; of a safety part none.

        Its records count as they are: setting them on usual clocks would make such parts last longer on all other cars.
        """
        found = [
            replace(one, clocks=tuple(clock for clock in one.clocks if clock in clocks))
            for one in book_modifiers(kind)
            if book and not kind.safety and set(one.clocks) & set(clocks)
        ]
        return cls(kind.id, clocks, tuple(found))

    def keys(self, cars: Sequence[Car]) -> dict[str, str]:
        """The circumstances of the parts of the kind, by fitment; those in the usual ones are left out."""
        if not self.modifiers:
            return {}
        found = {
            part.row.id: key_of(self.kind, car.row.circumstances, part.row.grade)
            for car in cars
            for part in car.parts
            if part.row.kind == self.kind
        }
        return {ref: key for ref, key in found.items() if key}

    def among(self, keys: Collection[str]) -> tuple[Modifier, ...]:
        """The modifiers that some circumstances name."""
        named = {name for key in keys for name in key.split()}
        return tuple(one for one in self.modifiers if one.name in named)

    def settings(self, keys: Sequence[str], modifiers: Sequence[Modifier]) -> FloatArray:
        """1 where a modifier bears on a row, else 0: (rows, modifiers)."""
        return np.array([[float(one.name in key.split()) for one in modifiers] for key in keys])

    def factors(self, keys: Sequence[str], learnt: Mapping[str, float]) -> FloatArray:
        """The multiplier on each clock of each row, (rows, clocks): the book's middle, or the learnt one by its modifier."""
        if not self.modifiers:
            return np.ones((len(keys), len(self.clocks)))
        logs = np.log([learnt.get(one.name, one.factor) for one in self.modifiers])
        moved: FloatArray = np.exp(
            (self.settings(keys, self.modifiers) * logs) @ bears_on(self.clocks, self.modifiers).T
        )
        return moved

    def undated(self, spells: UndatedSpells, keys: Mapping[str, str]) -> UndatedSpells:
        """Parts of unknown day on the usual clocks, by the book's multipliers."""
        own = [keys.get(ref, "") for ref in spells.refs]
        if not any(own):
            return spells
        return replace(spells, nodes=on_usual_clocks(spells.nodes, self.factors(own, {})[spells.row]))

    def masked(self, events: Sequence[Masked], keys: Mapping[str, str]) -> list[Masked]:
        """Shared complaints with their parts on the usual clocks, by the book's multipliers."""
        return [
            one.on_usual_clocks(self.factors([keys.get(ref, "") for ref in one.refs], {}))
            if any(ref in keys for ref in one.refs)
            else one
            for one in events
        ]


def worse_from_new(keys: Sequence[str]) -> NDArray[np.bool_]:
    """Rows of parts of which the book knows that more are bad from the shelf than of such parts in general."""
    worse = {one.id for one in load_modifiers().values() if one.new_part_fault is not None}
    return np.array([bool(worse & set(key.split())) for key in keys], dtype=np.bool_)
