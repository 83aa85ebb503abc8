"""What circumstances do to a kind's life: the book's multiplier, or the one that a fleet's records taught, and both in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from api.bridge.words import significant
from planner.catalogue import load_modifiers
from planner.life.modifiers.in_circumstances import Multiplier, book_multiplier
from planner.life.modifiers.values import book_modifiers

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.catalogue import BookModifier, PartKind
    from planner.history.spells import Clock

DRAWS = 400
"""Draws of the book's multipliers: as many as a stored life has."""

WITHOUT_BOOK = "What is told of this car's circumstances changes nothing here: the life of such parts was fitted without the book. "

NEVER_LATER = "a safety part is never planned later for it"


@dataclass(frozen=True, eq=False)
class Taught:
    """What the fleet's records taught of one multiplier, in the fit of the kind's life.

    Attributes:
        factor: posterior mode.
        log_draws: going with the life's draws.
        histories: of parts in such circumstances.
        failures: among them.
    """

    factor: float
    log_draws: tuple[float, ...]
    histories: float
    failures: float

    @classmethod
    def from_json(cls, content: Mapping[str, Any]) -> Taught:
        """What `to_json` wrote."""
        return cls(**{**content, "log_draws": tuple(content["log_draws"])})

    def to_json(self) -> dict[str, Any]:
        """As a stored life's content keeps it."""
        return {**vars(self), "log_draws": list(self.log_draws)}


@dataclass(frozen=True, eq=False)
class Effect:
    """One modifier as it bears on parts of one kind.

    Attributes:
        book: the catalogue's entry.
        multiplier: on life, on the clocks that it bears on.
        low, high: between these in four cases of five.
        taught: what the records said of it; None: the book speaks.
    """

    book: BookModifier
    multiplier: Multiplier
    low: float
    high: float
    taught: Taught | None

    @property
    def words(self) -> str:
        """What it does: "life about 0.53 of the usual (book, between 0.38 and 0.73)"."""
        low, high = significant(self.low), significant(self.high)
        range_ = f"between {low:g} and {high:g}"
        if self.taught is None:
            basis = f"book, {range_}"
        else:
            told = f"{significant(self.taught.histories, 3):g}"
            basis = f"learnt from {told} {'history' if told == '1' else 'histories'}, {range_}"
        return f"life about {significant(self.multiplier.factor):g} of the usual ({basis})"


def effects_of(
    kind: PartKind, clocks: Sequence[Clock], key: str, learnt: Mapping[str, Taught]
) -> tuple[Effect, ...]:
    """What the named modifiers do to parts of a kind; of a safety part those that shorten, and never lengthen.

    Args:
        kind: the catalogue's entry.
        clocks: on which its life runs; a modifier of another clock does nothing.
        key: ids of modifiers, a space between.
        learnt: what the records taught, by id.
    """
    found = (_effect(one, learnt.get(one.name)) for one in book_modifiers(kind) if one.name in key.split())
    on_clocks = [one for one in found if set(one.multiplier.clocks) & set(clocks)]
    if not kind.safety:
        return tuple(on_clocks)
    held = ((one, one.multiplier.shortening) for one in on_clocks)
    return tuple(Effect(one.book, own, one.low, one.high, one.taught) for one, own in held if own is not None)


def fault_in(effects: Sequence[Effect], usual: float) -> float:
    """The chance of a bad new part in these circumstances: the kind's, raised where the book knows such parts to be worse."""
    return max([usual, *(one.book.likely_fault or 0.0 for one in effects)])


def said_of(kind: PartKind, key: str, effects: Sequence[Effect]) -> str:
    """The circumstances of a part as the beginning of its reason.

    Args:
        kind: the catalogue's entry.
        key: ids of the modifiers that hold.
        effects: those of them that change something.
    """
    words = {one.book.id: f"{one.words}{_worse(one)}" for one in effects}
    if kind.safety:
        words = {name: NEVER_LATER for name in key.split() if load_modifiers()[name].middle >= 1.0} | words
    return "".join(f"{begun(load_modifiers()[name].name)}: {said}. " for name, said in words.items())


def listed(kind: PartKind, clocks: Sequence[Clock], learnt: Mapping[str, Taught]) -> list[dict[str, Any]]:
    """Every modifier that the catalogue knows for a kind, as an answer lists it."""
    found = []
    for modifier in book_modifiers(kind):
        one = _effect(modifier, learnt.get(modifier.name))
        held = kind.safety and one.multiplier.shortening is None
        there = bool(set(modifier.clocks) & set(clocks))
        words = NEVER_LATER if held else one.words if there else "it bears on no clock of this life"
        found.append(
            {
                "id": one.book.id,
                "name": one.book.name,
                "grade": one.book.grade,
                "clocks": list(modifier.clocks),
                "factor": significant(one.multiplier.factor, 3),
                "low": significant(one.low, 3),
                "high": significant(one.high, 3),
                "source": "book" if one.taught is None else "learnt",
                "histories": 0.0 if one.taught is None else one.taught.histories,
                "failures": 0.0 if one.taught is None else one.taught.failures,
                "new_part_fault": None
                if one.book.likely_fault is None
                else significant(one.book.likely_fault),
                "provenance": one.book.provenance.text,
                "words": f"{begun(one.book.name)}: {words}{_worse(one)}",
            }
        )
    return found


def begun(name: str) -> str:
    """A name with a capital, to begin a sentence with."""
    return name[:1].upper() + name[1:]


def _worse(one: Effect) -> str:
    fault = one.book.new_part_fault
    if fault is None:
        return ""
    low, high = (f"{100 * share:g}" for share in fault)
    return f"; {low} to {high} % of new ones are bad from the shelf (book)"


def _effect(modifier: Any, taught: Taught | None) -> Effect:
    """What a modifier does, with the range that answers reckon with: the book's is widened, as its notes are no measurements."""
    if taught is None:
        own = book_multiplier(modifier, DRAWS)
    else:
        own = Multiplier(modifier.name, modifier.clocks, taught.factor, np.array(taught.log_draws))
    low, high = np.exp(np.quantile(own.log_draws, [0.1, 0.9]))
    return Effect(load_modifiers()[modifier.name], own, float(low), float(high), taught)
