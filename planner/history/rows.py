"""One episode of a part's life to rows of life data: its bounds on each clock, its weight, its local rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.history.clocks import TOO_ROUGH, ClockUnknownError
from planner.history.spells import Clock, Spells

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.clocks import PartClocks
    from planner.history.episodes import Episode
    from planner.history.part_history import Event

BAD_FROM_NEW = (100.0, 7.0 / 365.25)
"""A part that fails within this distance (km) and age (years) was bad from the shelf or badly fitted, not worn."""

FAILED_AT_ONCE = "failed within days of its fitting: bad from new or badly fitted, not worn"
"""Why such a part gives no row of wear; it counts towards how many new parts are bad."""

GRAIN: dict[Clock, float] = {"distance": 1.0, "age": 1.0 / 365.25}
"""Records are kept in whole km and days: what failed in use had at least one of each behind it."""

LEAST_RATE = 1.0
"""A car that failed a part in use was moving: at least this yearly distance, in km."""

Bounds = tuple[float, float, float]


@dataclass(frozen=True)
class Row:
    """Entry, lower and upper on each clock; weight; local rate in km per year (nan in rows that are not exact)."""

    bounds: dict[Clock, Bounds]
    weight: float
    rate: float


def rows_of(
    clocks: PartClocks, span: Episode, chosen: Sequence[Clock], *, as_known: bool = False
) -> list[Row]:
    """The rows of one episode: the event with its weight, and the part still good with the rest.

    Args:
        clocks: the part's clocks.
        span: the episode.
        chosen: clocks to give.
        as_known: True takes every place at its likely value, however rough: for one of several assumed fitting days.

    Raises:
        ClockUnknownError: a clock cannot be told, or too roughly; nothing was observed; or it was bad from new.
    """
    if not as_known:
        for clock in chosen:
            _refuse_rough(clocks, span, clock)
        if span.counts.event_weight > 0.0 and _bad_from_new(clocks, span):
            raise ClockUnknownError(FAILED_AT_ONCE)
    weight = span.counts.event_weight
    rows = []
    if weight > 0.0:
        rows.append(_event(clocks, span, chosen, weight))
    if weight < 1.0:
        rows.append(_still_good(clocks, span, chosen, 1.0 - weight, as_known=as_known))
    return rows


def spells_of(rows: Sequence[Row], chosen: Sequence[Clock]) -> Spells | None:
    """Rows as spells; None where there are none."""
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


def _refuse_rough(clocks: PartClocks, span: Episode, clock: Clock) -> None:
    clocks.at(span.end, clock)  # says why, where the clock cannot be told at all
    doubt = max(clocks.doubt(event, clock) for event in (span.entry, span.good, span.end))
    if doubt > TOO_ROUGH[clock]:
        unit = "km" if clock == "distance" else "years"
        raise ClockUnknownError(f"its place on the {clock} clock is known only within {doubt:,.0f} {unit}")


def _bad_from_new(clocks: PartClocks, span: Episode) -> bool:
    days_known = clocks.doubt(span.end, "age") <= BAD_FROM_NEW[1]
    if not (clocks.from_new and days_known and clocks.at(span.end, "age") <= BAD_FROM_NEW[1]):
        return False
    return (
        span.end.km is None or clocks.fitted.km is None or clocks.at(span.end, "distance") <= BAD_FROM_NEW[0]
    )


def _still_good(
    clocks: PartClocks, span: Episode, chosen: Sequence[Clock], weight: float, *, as_known: bool
) -> Row:
    bounds: dict[Clock, Bounds] = {}
    for clock in chosen:
        entry, end = clocks.entry_at(span.entry, clock), _at(clocks, span, span.end, clock)
        bounds[clock] = (entry, max(entry, end), np.inf)
    if not as_known and all(entry == lower for entry, lower, _ in bounds.values()):
        raise ClockUnknownError("no time under observation yet")
    return Row(bounds, weight, np.nan)


def _event(clocks: PartClocks, span: Episode, chosen: Sequence[Clock], weight: float) -> Row:
    bounds = {clock: _event_bounds(clocks, span, clock) for clock in chosen}
    if any(upper <= 0.0 for _, _, upper in bounds.values()):
        raise ClockUnknownError("found bad before its clock had moved")
    exact = all(lower == upper for _, lower, upper in bounds.values())
    return Row(bounds, weight, _rate(span, bounds) if exact else np.nan)


def _event_bounds(clocks: PartClocks, span: Episode, clock: Clock) -> Bounds:
    entry, end = clocks.entry_at(span.entry, clock), _at(clocks, span, span.end, clock)
    if span.counts.ending == "failed in use":
        end = max(end, entry + GRAIN[clock])
        return entry, end, end
    end = max(entry, end)
    if span.counts.ending == "died standing" and clock == "distance":
        return entry, end, end
    good = entry if span.good is span.entry else _at(clocks, span, span.good, clock)
    return entry, min(end, max(entry, good)), end


def _at(clocks: PartClocks, span: Episode, event: Event, clock: Clock) -> float:
    """The clock at an event of an episode; one on the day of the repair that began it came after that repair."""
    if span.entry.what == "repaired" and event.on.likely <= span.entry.on.likely:
        return clocks.entry_at(event, clock)
    return clocks.at(event, clock)


def _rate(span: Episode, bounds: dict[Clock, Bounds]) -> float:
    """Local yearly distance at the failure, from the car's readings where they tell, else the mean over the spell."""
    if set(bounds) != {"distance", "age"}:
        return 0.0
    if span.end_rate is not None and span.end_rate > 0.0:
        return span.end_rate
    (km_entry, _, km), (years_entry, _, years) = bounds["distance"], bounds["age"]
    return max(LEAST_RATE, (km - km_entry) / max(years - years_entry, GRAIN["age"]))
