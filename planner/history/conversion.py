"""From part histories to spells: the clocks at each episode's bounds, and what had to be left out and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from planner.errors import RecordError
from planner.history.clocks import ClockUnknownError, part_clocks
from planner.history.episodes import episodes, why_none
from planner.history.findings import refuse_failure_undone
from planner.history.rows import Row, rows_of, spells_of
from planner.history.succession import with_successors
from planner.history.timeline import timeline
from planner.history.undated import UndatedRow, UndatedSpells, undated_rows, undated_spells
from planner.history.virtual_age import AS_OLD_AS_BEFORE, VirtualAge, virtual_clocks

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from planner.history.evidence import Ending
    from planner.history.part_history import PartHistory, Timeline
    from planner.history.spells import Clock, Spells


@dataclass(frozen=True)
class LeftOut:
    """A history, or an episode of one, that gives no row, and why, in words."""

    ref: str
    reason: str


@dataclass(frozen=True)
class RowsOf:
    """Which rows an episode of a history became.

    Attributes:
        ref: the fitment's own key.
        rows: row numbers in the spells; two where the evidence is a share of failure and a share of still good.
        ending: what the event is.
        event_weight: share of it, 0 for a part still good.
        cause: the reason in the keeper's words; competing causes are told apart by it.
        shared_event: the complaint against which several parts were renewed at once; None where it was this part alone.
    """

    ref: str
    rows: tuple[int, ...]
    ending: Ending
    event_weight: float
    cause: str
    shared_event: str | None = None


@dataclass(frozen=True)
class SpellsResult:
    """Spells and the account of how they came about.

    Attributes:
        spells: the life data; None where no history gave a row.
        left_out: what gave no row, with reasons.
        rows: which rows each history became.
        undated: parts whose fitting or removal day is spread over many, where they were asked for; else None.
    """

    spells: Spells | None
    left_out: tuple[LeftOut, ...]
    rows: tuple[RowsOf, ...]
    undated: UndatedSpells | None = None


@dataclass
class _Account:
    """What the histories have given so far."""

    chosen: tuple[Clock, ...]
    rows: list[Row] = field(default_factory=list)
    left_out: list[LeftOut] = field(default_factory=list)
    became: list[RowsOf] = field(default_factory=list)
    undated: list[UndatedRow] = field(default_factory=list)


def spells_from(
    histories: Iterable[PartHistory],
    clocks: Sequence[Clock],
    today: date,
    *,
    contradictions: Literal["raise", "leave out"] = "raise",
    undated: Literal["leave out", "keep"] = "leave out",
    repairs: VirtualAge = AS_OLD_AS_BEFORE,
) -> SpellsResult:
    """Turn the histories of one part kind into spells.

    A part still in service counts as good until it was last seen to work (a look, or the car's last odometer reading), not
    until today. One without a removal, in whose place another was fitted, counts until then, and `rows` say so. A part bought
    with the car counts from the day the car joined (delayed entry). Where a day is known too roughly to count, the history is left out and listed, or kept as a spread of days: it is never dated to the purchase.

    Args:
        histories: parts of one kind.
        clocks: "distance", "age" or both.
        today: no record may be later.
        contradictions: "raise", or "leave out" histories that contradict themselves, with the error's words.
        undated: "leave out" parts whose days are too rough and list them, or "keep" them apart in `undated`.
        repairs: how far each repair set the clocks back; by default not at all.

    Raises:
        RecordError: a record contradicts another, naming the field; or `clocks` names none or another clock.
    """
    account = _Account(_chosen(clocks))
    for history in with_successors(histories):
        try:
            line = timeline(history, today)
            refuse_failure_undone(line)
        except RecordError as error:
            if contradictions == "raise":
                raise
            account.left_out.append(LeftOut(history.fitment.ref, f"contradicts itself: {error}"))
            continue
        _take(history, line, account, repairs, keep_undated=undated == "keep")
    return SpellsResult(
        spells_of(account.rows, account.chosen),
        tuple(account.left_out),
        tuple(account.became),
        undated_spells(account.undated, account.chosen),
    )


def _chosen(clocks: Sequence[Clock]) -> tuple[Clock, ...]:
    chosen: tuple[Clock, ...] = tuple(clock for clock in ("distance", "age") if clock in clocks)
    if not chosen or isinstance(clocks, str) or len(chosen) != len(set(clocks)):
        raise RecordError("clocks", 'a sequence of "distance", "age" or both', clocks)
    return chosen


def _take(
    history: PartHistory, line: Timeline, account: _Account, repairs: VirtualAge, *, keep_undated: bool
) -> None:
    ref = history.fitment.ref
    spread = undated_rows(history, line, account.chosen, repairs) if keep_undated else []
    if spread:
        account.undated.extend(spread)
        return
    spans = episodes(history, line, split=repairs.sets_back)
    clocks = virtual_clocks(part_clocks(history, line), line, repairs)
    if not spans:
        account.left_out.append(LeftOut(ref, why_none(history, line)))
    shared = None if history.removal is None else history.removal.shared_event
    for span in spans:
        try:
            new = rows_of(clocks, span, account.chosen)
        except ClockUnknownError as error:
            account.left_out.append(LeftOut(ref, str(error)))
            continue
        numbers = tuple(range(len(account.rows), len(account.rows) + len(new)))
        account.rows.extend(new)
        at_removal = shared if span.end is line.removed else None
        account.became.append(
            RowsOf(ref, numbers, span.counts.ending, span.counts.event_weight, span.cause, at_removal)
        )
