"""From part histories to spells: the clocks at each episode's bounds, and what had to be left out and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import RecordError
from planner.history.clocks import TOO_ROUGH, ClockUnknownError, PartClocks, part_clocks
from planner.history.episodes import Episode, episodes
from planner.history.spells import Clock, Spells
from planner.history.timeline import timeline

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from planner.history.evidence import Ending
    from planner.history.part_history import PartHistory

BAD_FROM_NEW = (100.0, 7.0 / 365.25)
"""A part that fails within this distance (km) and age (years) was bad from the shelf or badly fitted, not worn."""

LEAST_RATE = 1.0
"""A car that failed a part in use was moving: at least this yearly distance, in km."""

GRAIN_YEARS = 1.0 / 365.25
"""Days are the grain of the records: a failure on the day of fitting happened within one."""


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
    """

    ref: str
    rows: tuple[int, ...]
    ending: Ending
    event_weight: float
    cause: str


@dataclass(frozen=True)
class SpellsResult:
    """Spells and the account of how they came about.

    Attributes:
        spells: the life data; None where no history gave a row.
        left_out: what gave no row, with reasons.
        rows: which rows each history became.
    """

    spells: Spells | None
    left_out: tuple[LeftOut, ...]
    rows: tuple[RowsOf, ...]


@dataclass(frozen=True)
class _Row:
    """Entry, lower and upper on each clock; weight; local rate (nan in rows that are not exact)."""

    bounds: dict[Clock, tuple[float, float, float]]
    weight: float
    rate: float


def spells_from(
    histories: Iterable[PartHistory],
    clocks: Sequence[Clock],
    today: date,
    *,
    contradictions: Literal["raise", "leave out"] = "raise",
) -> SpellsResult:
    """Turn the histories of one part kind into spells.

    A part still in service counts as good until it was last seen to work (a look, or the car's last odometer reading), not
    until today. A part bought with the car counts from the day the car joined (delayed entry). Where the fitting day is
    known too roughly for the age reached, the history is left out and listed: it is never dated to the purchase.

    Args:
        histories: parts of one kind.
        clocks: "distance", "age" or both.
        today: no record may be later.
        contradictions: "raise", or "leave out" histories that contradict themselves, with the error's words.

    Raises:
        RecordError: a record contradicts another, naming the field; or `clocks` names none or another clock.
    """
    chosen = _chosen(clocks)
    rows: list[_Row] = []
    left_out: list[LeftOut] = []
    became: list[RowsOf] = []
    for history in histories:
        try:
            found = _episodes(history, today)
        except RecordError as error:
            if contradictions == "raise":
                raise
            left_out.append(LeftOut(history.fitment.ref, f"contradicts itself: {error}"))
            continue
        _take(history.fitment.ref, found, chosen, rows, left_out, became)
    return SpellsResult(_spells(rows, chosen), tuple(left_out), tuple(became))


def _chosen(clocks: Sequence[Clock]) -> tuple[Clock, ...]:
    chosen: tuple[Clock, ...] = tuple(clock for clock in ("distance", "age") if clock in clocks)
    if not chosen or isinstance(clocks, str) or len(chosen) != len(set(clocks)):
        raise RecordError("clocks", 'a sequence of "distance", "age" or both', clocks)
    return chosen


def _episodes(history: PartHistory, today: date) -> tuple[PartClocks, list[Episode]]:
    line = timeline(history, today)
    return part_clocks(history, line), episodes(history, line)


def _take(
    ref: str,
    found: tuple[PartClocks, list[Episode]],
    chosen: tuple[Clock, ...],
    rows: list[_Row],
    left_out: list[LeftOut],
    became: list[RowsOf],
) -> None:
    clocks, spans = found
    if not spans:
        left_out.append(
            LeftOut(ref, "its life ended, or it was last seen, before the records of the car begin")
        )
    for span in spans:
        try:
            new = _rows(clocks, span, chosen)
        except ClockUnknownError as error:
            left_out.append(LeftOut(ref, str(error)))
            continue
        numbers = tuple(range(len(rows), len(rows) + len(new)))
        rows.extend(new)
        became.append(RowsOf(ref, numbers, span.counts.ending, span.counts.event_weight, span.cause))


def _rows(clocks: PartClocks, span: Episode, chosen: tuple[Clock, ...]) -> list[_Row]:
    """The rows of one episode: the event with its weight, and the part still good with the rest."""
    for clock in chosen:
        _refuse_rough(clocks, span, clock)
    weight = span.counts.event_weight
    rows = []
    if weight > 0.0:
        rows.append(_event(clocks, span, chosen, weight))
    if weight < 1.0:
        rows.append(_still_good(clocks, span, chosen, 1.0 - weight))
    return rows


def _refuse_rough(clocks: PartClocks, span: Episode, clock: Clock) -> None:
    clocks.at(span.end, clock)  # says why, where the clock cannot be told at all
    doubt = max(clocks.doubt(event, clock) for event in (span.entry, span.good, span.end))
    if doubt > TOO_ROUGH[clock]:
        unit = "km" if clock == "distance" else "years"
        raise ClockUnknownError(f"its place on the {clock} clock is known only within {doubt:,.0f} {unit}")


def _still_good(clocks: PartClocks, span: Episode, chosen: tuple[Clock, ...], weight: float) -> _Row:
    bounds = {}
    for clock in chosen:
        entry, end = clocks.at(span.entry, clock), clocks.at(span.end, clock)
        bounds[clock] = (entry, max(entry, end), np.inf)
    if all(entry == lower for entry, lower, _ in bounds.values()):
        raise ClockUnknownError("no time under observation yet")
    return _Row(bounds, weight, np.nan)


def _event(clocks: PartClocks, span: Episode, chosen: tuple[Clock, ...], weight: float) -> _Row:
    if _bad_from_new(clocks, span):
        raise ClockUnknownError("failed within days of its fitting: bad from new or badly fitted, not worn")
    bounds = {clock: _event_bounds(clocks, span, clock) for clock in chosen}
    if any(upper <= 0.0 for _, _, upper in bounds.values()):
        raise ClockUnknownError("found bad before its clock had moved")
    exact = all(lower == upper for _, lower, upper in bounds.values())
    return _Row(bounds, weight, _rate(span, bounds) if exact else np.nan)


def _bad_from_new(clocks: PartClocks, span: Episode) -> bool:
    days_known = clocks.doubt(span.end, "age") <= BAD_FROM_NEW[1]
    if not (clocks.from_new and days_known and clocks.at(span.end, "age") <= BAD_FROM_NEW[1]):
        return False
    return (
        span.end.km is None or clocks.fitted.km is None or clocks.at(span.end, "distance") <= BAD_FROM_NEW[0]
    )


def _event_bounds(clocks: PartClocks, span: Episode, clock: Clock) -> tuple[float, float, float]:
    entry, end = clocks.at(span.entry, clock), clocks.at(span.end, clock)
    if clock == "age" and end < entry + GRAIN_YEARS and span.counts.ending == "failed in use":
        end = entry + GRAIN_YEARS
    end = max(entry, end)
    moment = span.counts.ending == "failed in use" or (
        span.counts.ending == "died standing" and clock == "distance"
    )
    good = end if moment else min(end, max(entry, clocks.at(span.good, clock)))
    return entry, good, end


def _rate(span: Episode, bounds: dict[Clock, tuple[float, float, float]]) -> float:
    """Local yearly distance at the failure, from the car's readings where they tell, else the mean over the spell."""
    if set(bounds) != {"distance", "age"} or bounds["distance"][2] <= 0.0:
        return 0.0
    local = span.end_rate
    if local is not None and local > 0.0:
        return local
    (km_entry, _, km), (years_entry, _, years) = bounds["distance"], bounds["age"]
    return max(LEAST_RATE, (km - km_entry) / max(years - years_entry, GRAIN_YEARS))


def _spells(rows: Sequence[_Row], chosen: tuple[Clock, ...]) -> Spells | None:
    if not rows:
        return None
    weight = np.array([row.weight for row in rows])
    columns = {clock: np.array([row.bounds[clock] for row in rows]).T for clock in chosen}
    if len(chosen) == 1:
        entry, lower, upper = columns[chosen[0]]
        make = Spells.on_distance if chosen[0] == "distance" else Spells.on_age
        return make(lower, upper, entry, weight)
    km, years = columns["distance"], columns["age"]
    rate = np.array([row.rate for row in rows])
    return Spells.on_both(km[1], km[2], years[1], years[2], km[0], years[0], weight, rate)
