"""Complaints that several parts answered for, seen from one part kind: its parts as rows, the others' as hazards.

What the other kinds' parts bring is taken from the lives in force when the refit begins. An event with a part whose clocks
cannot be told stays with equal shares, as `spells_from` gives them.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import RecordError
from planner.history.conversion import spells_from
from planner.history.shared_events import shared_events
from planner.history.spells import Spells
from planner.life.joined_rows import SharedEvents
from planner.life.modifiers.usual_clocks import on_usual_clocks
from planner.usage import UsagePrior

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from api.bridge.gather import Car
    from planner.history.conversion import RowsOf, SpellsResult
    from planner.history.part_history import PartHistory
    from planner.history.shared_events import SharedEvent
    from planner.history.spells import FloatArray
    from planner.life.model import Life

    LifeOf = Callable[[str], Life]


@dataclass(frozen=True)
class Masked:
    """One complaint seen from one kind.

    Attributes:
        rows: numbers of the rows, in the spells, that its parts' removals became with equal shares; they are replaced.
        spells: its parts as exact rows at their removals, weight 1, (n,).
        fit: how well each fits the complaint, (n,).
        others: Σ fit·hazard of the other kinds' parts, per year (per km where distance is this kind's only clock).
        refs: the fitment of each of its parts, (n,).
    """

    rows: tuple[int, ...]
    spells: Spells
    fit: tuple[float, ...]
    others: float
    refs: tuple[str, ...]

    def on_usual_clocks(self, factors: FloatArray) -> Masked:
        """The same with clocks divided by multipliers on life, (n, clocks); hazards stay per year (per km) as it went by."""
        fit = tuple(float(one) for one in np.asarray(self.fit) / factors[:, -1])
        return replace(self, spells=on_usual_clocks(self.spells, factors), fit=fit)


def masked_causes(
    cars: Sequence[Car], kind: str, found: SpellsResult, life_of: LifeOf, today: date
) -> list[Masked]:
    """The complaints cured by renewing several parts of which one at least is of this kind.

    Args:
        cars: whole histories.
        kind: the kind that is fitted.
        found: what the histories of the kind on these cars gave.
        life_of: the life in force of another kind.
        today: no record may be later.
    """
    if found.spells is None:
        return []
    own = {row.ref: row for row in found.rows if row.shared_event is not None}
    seen: list[Masked | None] = []
    for car in cars:
        parts = {part.row.id: part.history for part in car.parts}
        events = (e for e in _events(list(parts.values())) if any(one.ref in own for one in e.candidates))
        seen += [_masked(event, kind, parts, own, found.spells, life_of, today) for event in events]
    return [one for one in seen if one is not None]


def joined_events(masked: Sequence[Masked]) -> SharedEvents | None:
    """All of them as rows for a fit; None where there are none."""
    if not masked:
        return None
    return SharedEvents.of(
        Spells.concat([one.spells for one in masked]),
        np.repeat(np.arange(len(masked)), [len(one.fit) for one in masked]),
        [fit for one in masked for fit in one.fit],
        [one.others for one in masked],
    )


def _events(parts: Sequence[PartHistory]) -> list[SharedEvent]:
    """The cured events of one car; one whose records contradict each other is left out, which leaves equal shares."""
    named: dict[str, list[PartHistory]] = {}
    for part in parts:
        if part.removal is not None and part.removal.shared_event is not None:
            named.setdefault(part.removal.shared_event, []).append(part)
    found: list[SharedEvent] = []
    for against in named.values():
        with suppress(RecordError):
            found += shared_events(against)
    return found


def _masked(
    event: SharedEvent,
    kind: str,
    parts: dict[str, PartHistory],
    own: dict[str, RowsOf],
    spells: Spells,
    life_of: LifeOf,
    today: date,
) -> Masked | None:
    mine = [one for one in event.candidates if one.kind == kind]
    rows = [own[one.ref].rows for one in mine if one.ref in own]
    if len(rows) < len(mine):
        return None
    exact = spells.take(np.array([numbers[0] for numbers in rows]))
    if not exact.exact.all():
        return None
    rate = _rate(parts[mine[0].ref])
    others = 0.0
    for one in event.candidates:
        if one.kind != kind:
            hazard = _hazard(parts[one.ref], life_of(one.kind), rate, today)
            if hazard is None:
                return None
            others += one.fit * hazard
    if spells.clocks == ("distance",):
        others /= rate
    at_removal = Spells(exact.km, exact.years, np.ones(len(exact)), exact.km_per_year)
    numbers = tuple(number for each in rows for number in each)
    return Masked(numbers, at_removal, tuple(one.fit for one in mine), others, tuple(one.ref for one in mine))


def _rate(history: PartHistory) -> float:
    """The car's yearly distance when the part came out, as far as its readings tell; else that of such cars."""
    track, removal = history.track, history.removal
    if track is None or track.pace is None or removal is None:
        return UsagePrior().median
    return max(1.0, track.km_per_year_at(removal.removed_on.likely))


def _hazard(history: PartHistory, life: Life, rate: float, today: date) -> float | None:
    """Failures per year of a part at its removal; None where its clocks cannot be told."""
    found = spells_from([history], life.clocks, today, contradictions="leave out")
    row = next((each.rows[0] for each in found.rows if each.shared_event is not None), None)
    if row is None or found.spells is None:
        return None
    names = {"distance": "km", "age": "years"}
    at = {
        names[c]: float(b.upper[row]) for c, b in zip(found.spells.clocks, found.spells.bounds, strict=True)
    }
    hazard = float(life.hazard(**at, km_per_year=rate if life.distance is not None else None))
    return hazard if np.isfinite(hazard) else None
