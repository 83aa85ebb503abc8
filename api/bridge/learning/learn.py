"""What the fleet's histories of one kind say: dated spells, parts of unknown day, shared complaints, and what gave nothing."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from api.bridge import gather, store
from api.bridge.in_force import models
from api.bridge.in_force.book_lives import LIFE_SCHEMA, book_fingerprint
from api.bridge.in_force.terms import digest
from api.bridge.learning.masked import Masked, joined_events, masked_causes
from api.bridge.learning.repaired import learnt_shares, repairs_in_fit, to_json
from api.bridge.learning.told import Told, worse_from_new
from api.fleets.today import today_of
from planner.catalogue import load_catalogue
from planner.history.conversion import LeftOut, spells_from
from planner.history.evidence import counts_as
from planner.history.rows import FAILED_AT_ONCE
from planner.history.spells import Spells
from planner.history.undated import UndatedSpells
from planner.life.joined_rows import SharedEvents, undated_rows_of
from planner.life.modifiers.usual_clocks import on_usual_clocks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from numpy.typing import NDArray
    from sqlmodel import Session

    from api.bridge.gather import Car
    from api.bridge.in_force.terms import Terms
    from planner.history.conversion import SpellsResult
    from planner.history.part_history import PartHistory
    from planner.life.joined_rows import JoinedRows
    from planner.life.model import Life
    from planner.life.repair_shares import RepairShare

FIT_SEED = 1
FIT_DRAWS = 400
METHOD = 9
"""Number of the way in which records become a life; a new one makes every kind worth fitting again."""

MOST_UNDATED = 2_000
"""Most parts of unknown day that a fit integrates over; beyond, a fixed sample stands for them and the rest are left out."""


NOT_SAMPLED = (
    f"its day is unknown, and {MOST_UNDATED:,} other such parts, picked by lot, tell the fit what it would"
)


@dataclass(frozen=True)
class Learnt:
    """What the fleet's histories of one kind give.

    Attributes:
        spells: the life data; None where no history gave a dated row.
        undated: parts whose fitting or removal day is spread over many; None where there are none, or no prior to carry them.
        shared: complaints that several parts answered for; likewise.
        left_out: what gave no row, and why.
        today: the day on which the histories were read, in the fleet's zone.
        cars: which car each row of the spells is of.
        failed_at_once: weight of the parts that failed within days of their fitting; they are among those left out.
        repairs: what each repair leaves of the wear, by its name; the spells of repaired parts stand on clocks set back so.
        told: the modifiers that can bear on such parts.
        keys: in which circumstances each row of the spells is, as `api.bridge.in_force.circumstances` names them.
        by_book: how many parts of unknown day or with a shared complaint were set on the usual clocks by the book's multipliers.
    """

    spells: Spells | None
    undated: UndatedSpells | None
    shared: SharedEvents | None
    left_out: tuple[LeftOut, ...]
    today: date
    cars: NDArray[np.str_]
    failed_at_once: float = 0.0
    repairs: dict[str, RepairShare] = field(default_factory=dict)
    told: Told | None = None
    keys: tuple[str, ...] = ()
    by_book: int = 0

    def on_usual_clocks(self, learnt: Mapping[str, float] | None = None) -> Learnt:
        """The same with each dated row on the clocks that it would show in the usual circumstances.

        Args:
            learnt: multipliers on life by modifier; the book's middle for the others.
        """
        if self.spells is None or self.told is None or not any(self.keys):
            return self
        factors = self.told.factors(self.keys, learnt or {})
        return replace(self, spells=on_usual_clocks(self.spells, factors))

    @property
    def not_worse_from_new(self) -> Learnt:
        """The same without parts of a grade of which more are bad from the shelf."""
        worse = worse_from_new(self.keys)
        if self.spells is None or not worse.any():
            return self
        left = np.flatnonzero(~worse)
        spells = self.spells.take(left) if len(left) else None
        keys = tuple(self.keys[row] for row in left)
        return replace(self, spells=spells, cars=self.cars[left], keys=keys)

    @property
    def empty(self) -> bool:
        """Whether no history gave anything to fit."""
        return self.spells is None and not self.joined

    @property
    def joined(self) -> tuple[JoinedRows, ...]:
        """The evidence that stays rows in a fit."""
        undated = () if self.undated is None else (undated_rows_of(self.undated),)
        return (*undated, *(() if self.shared is None else (self.shared,)))

    @property
    def counts(self) -> dict[str, int]:
        """How many parts of unknown day were integrated over, and how many shared complaints weighed."""
        return {
            "integrated_over": 0 if self.undated is None else len(set(self.undated.refs)),
            "shared_events": 0 if self.shared is None else len(self.shared.starts),
        }


def learn(session: Session, fleet_id: str, kind: str, terms: Terms, *, own: bool = True) -> Learnt:
    """Turn every history of a kind in the fleet into life data, some cars at a time.

    Without a prior nothing is integrated over and complaints are shared equally: a bare likelihood does not carry them.

    Args:
        session: any session.
        fleet_id: whose histories.
        kind: of which part.
        terms: clocks, and whether the book's expectation counts.
        own: learn what repairs leave; else repaired parts are taken as the trade notes expect.
    """
    today = today_of(session, fleet_id)
    carried = terms.prior == "book"
    shares = learnt_shares(session, fleet_id, kind, terms, today) if own else {}
    repairs = repairs_in_fit(shares, terms)
    lives = _Lives(session, fleet_id)
    told = Told.of(load_catalogue()[kind], terms.clocks, book=carried)
    keys: dict[str, str] = {}
    spells: list[_Rows] = []
    undated: list[UndatedSpells] = []
    masked: list[Masked] = []
    left_out: list[LeftOut] = []
    at_once = 0.0
    for batch in gather.cars_with(session, fleet_id, kind):
        parts = [part.history for car in batch for part in car.parts if part.row.kind == kind]
        found = spells_from(
            parts,
            terms.clocks,
            today,
            contradictions="leave out",
            undated="keep" if carried else "leave out",
            repairs=repairs,
        )
        left_out.extend(found.left_out)
        own_keys = told.keys(batch)
        keys |= own_keys
        at_once += _failed_at_once(parts, found, own_keys)
        shared = told.masked(masked_causes(batch, kind, found, lives.of, today), own_keys) if carried else []
        masked.extend(shared)
        spells.extend(_without(found, shared, batch, own_keys))
        if found.undated is not None:
            undated.append(told.undated(found.undated, own_keys))
    kept, dropped = _sampled(UndatedSpells.concat(undated).in_order() if undated else None)
    left_out.extend(dropped)
    rows = _in_order(spells)
    joined = [*(() if kept is None else set(kept.refs)), *(ref for one in masked for ref in one.refs)]
    return Learnt(
        rows.spells, kept, joined_events(masked), tuple(left_out), today, rows.cars, at_once, shares,
        told, tuple(rows.keys.tolist()), sum(ref in keys for ref in joined),
    )  # fmt: skip


def fingerprint_of(kind: str, terms: Terms, learnt: Learnt) -> str:
    """Of everything that the life is made from."""
    if learnt.empty:
        return book_fingerprint(kind, terms.clocks)
    prior = book_fingerprint(kind, terms.clocks) if terms.prior == "book" else None
    left_out = [[one.ref, one.reason] for one in learnt.left_out]
    undated, shared = learnt.undated, learnt.shared
    return digest(
        [
            [kind, terms.clocks, prior, METHOD, FIT_SEED, FIT_DRAWS, LIFE_SCHEMA],
            None if learnt.spells is None else columns_of(learnt.spells),
            None if undated is None else [columns_of(undated.nodes), undated.share.tolist(), undated.weight.tolist()],
            None if shared is None else [shared.logs.upper.tolist(), shared.log_fit.tolist(), shared.log_others.tolist()],
            left_out,
            to_json(learnt.repairs),
            np.unique(learnt.cars, return_inverse=True)[1].tolist(),
            *_told(learnt),
        ]
    )  # fmt: skip


def _told(learnt: Learnt) -> list[Any]:
    """What of circumstances the life is made from; nothing where none were told."""
    if learnt.told is None or not (any(learnt.keys) or learnt.by_book):
        return []
    book = [[one.name, one.clocks, one.factor, one.spread] for one in learnt.told.modifiers]
    return [[list(learnt.keys), learnt.by_book, book]]


def _failed_at_once(parts: Sequence[PartHistory], found: SpellsResult, keys: Mapping[str, str]) -> float:
    """Of parts that are not of a grade of which more are bad from the shelf."""
    refs = {one.ref for one in found.left_out if one.reason == FAILED_AT_ONCE}
    refs -= {ref for ref in refs if worse_from_new([keys.get(ref, "")])[0]}
    gone = [part.removal for part in parts if part.removal is not None and part.fitment.ref in refs]
    return sum(counts_as(one.reason, one.cured, one.changed_together).event_weight for one in gone)


class _Lives:
    """Lives in force of other kinds, each looked up once."""

    def __init__(self, session: Session, fleet_id: str) -> None:
        self._session, self._fleet_id = session, fleet_id
        self._known: dict[str, Life] = {}

    def of(self, kind: str) -> Life:
        """The fleet's life of a kind, the book's where it has none."""
        if kind not in self._known:
            row = store.current_models(self._session, self._fleet_id, [kind]).get(kind)
            self._known[kind] = models.book_of(kind).life if row is None else models.life_of(row)
        return self._known[kind]


class _Rows(NamedTuple):
    """Rows with the car and the circumstances of each."""

    spells: Spells | None
    cars: NDArray[np.str_]
    keys: NDArray[np.str_]


def _without(
    found: SpellsResult, shared: Sequence[Masked], batch: Sequence[Car], keys: Mapping[str, str]
) -> list[_Rows]:
    """The spells but for the rows that shared events stand in for, each with its car and circumstances."""
    if found.spells is None:
        return []
    left = np.ones(len(found.spells), dtype=np.bool_)
    left[[number for one in shared for number in one.rows]] = False
    car_of = {part.row.id: car.row.id for car in batch for part in car.parts}
    cars = np.empty(len(left), dtype="U36")
    own = np.full(len(left), "", dtype=f"U{max(map(len, keys.values()), default=1)}")
    for one in found.rows:
        cars[list(one.rows)] = car_of[one.ref]
        own[list(one.rows)] = keys.get(one.ref, "")
    return [_Rows(found.spells.take(left), cars[left], own[left])] if left.any() else []


def _in_order(parts: Sequence[_Rows]) -> _Rows:
    """All of them sorted by what they say; of rows that say the same, by their circumstances."""
    if not parts:
        return _Rows(None, np.empty(0, dtype="U36"), np.empty(0, dtype="U1"))
    together = Spells.concat([part.spells for part in parts if part.spells is not None])
    cars, keys = (np.concatenate([part[column] for part in parts]) for column in (1, 2))
    by_key = np.argsort(keys, kind="stable")
    order = by_key[together.take(by_key).order]
    return _Rows(together.take(order), cars[order], keys[order])


def _sampled(undated: UndatedSpells | None) -> tuple[UndatedSpells | None, list[LeftOut]]:
    if undated is None or len(undated) <= MOST_UNDATED:
        return undated, []
    chosen = np.random.default_rng(FIT_SEED).permutation(len(undated))
    dropped = [LeftOut(undated.refs[i], NOT_SAMPLED) for i in chosen[MOST_UNDATED:]]
    return undated.take(np.sort(chosen[:MOST_UNDATED])), dropped


def columns_of(spells: Spells) -> list[Any]:
    """Everything that rows say, as plain lists, for fingerprints."""
    rates = None if spells.km_per_year is None else spells.km_per_year.tolist()
    sides = [part.tolist() for b in spells.bounds for part in (b.entry, b.lower, b.upper)]
    return [sides, rates, spells.weight.tolist()]
