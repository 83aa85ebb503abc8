"""Parts whose fitting day, removal day or distance at fitting is spread out: one row each, as a mixture of what it may have been.

The probability π is over *fitting days*, so the contribution of such a row is ∫π·L_from_new / ∫π·S(entry), with L_from_new the
likelihood of what was seen counted from new and S(entry) the chance of still being there when the car came under observation
(Kalbfleisch & Lawless 1992 for the truncation). A part is never dated to the purchase.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from planner.history.clocks import TOO_ROUGH, ClockUnknownError, part_clocks
from planner.history.dates import UncertainDate
from planner.history.episodes import episodes, watched_from
from planner.history.rows import Row, rows_of, spells_of
from planner.history.spells import Spells
from planner.history.virtual_age import virtual_clocks
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from planner.history.part_history import Event, PartHistory, Timeline
    from planner.history.spells import Clock
    from planner.history.virtual_age import VirtualAge

FITTING_DAYS = 16
REMOVAL_DAYS = 8
"""How many days stand for a spread, each the middle of an equal share."""

FITTING_PACES = 5
"""How many paces before the first reading stand for the spread of the distance at fitting, each of an equal share."""

OLDEST_PART_YEARS = 40.0
"""A part of wholly unknown age on a car of unknown age may be this old (judgement)."""

_Z90 = NormalDist().inv_cdf(0.9)


@dataclass(frozen=True)
class UndatedRow:
    """One row as a mixture.

    Attributes:
        ref: the fitment's own key.
        nodes: the row as it would be for each assumed day.
        share: probability of each, summing to one.
        weight: weight of the row.
    """

    ref: str
    nodes: tuple[Row, ...]
    share: tuple[float, ...]
    weight: float


@dataclass(frozen=True, eq=False)
class UndatedSpells:
    """Mixture rows, flattened.

    The log likelihood is Σ_i weight_i·[ln Σ_j share_j·exp(ℓ_j)·S(entry_j) - ln Σ_j share_j·S(entry_j)] over the nodes j of
    each row i, with ℓ_j the ordinary (conditional) log likelihood of node j.

    Attributes:
        nodes: every node as a spell of weight 1, shape (n,).
        row: which mixture row each node belongs to, shape (n,), rising from 0.
        share: probability of the node within its row, shape (n,).
        weight: weight of each mixture row, shape (m,).
        refs: fitment key of each mixture row.
    """

    nodes: Spells
    row: NDArray[np.int64]
    share: NDArray[np.float64]
    weight: NDArray[np.float64]
    refs: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.weight)

    @property
    def starts(self) -> NDArray[np.int64]:
        """The first node of each mixture row, shape (m,)."""
        return np.searchsorted(self.row, np.arange(len(self)))

    def take(self, rows: NDArray[np.int64]) -> UndatedSpells:
        """Mixture rows by number, in the order given; at least one."""
        ends = np.append(self.starts, len(self.row))
        nodes = np.concatenate([np.arange(ends[i], ends[i + 1]) for i in rows])
        counts = np.diff(ends)[rows]
        refs = tuple(self.refs[i] for i in rows)
        number = np.repeat(np.arange(len(rows)), counts)
        return UndatedSpells(self.nodes.take(nodes), number, self.share[nodes], self.weight[rows], refs)

    def in_order(self) -> UndatedSpells:
        """The same rows sorted by what they say, so that the same papers give the same fit in whatever order they came."""
        sides = [side for b in self.nodes.bounds for side in (b.entry, b.lower, b.upper)]
        means = [
            np.add.reduceat(self.share * np.where(np.isfinite(side), side, -1.0), self.starts)
            for side in sides
        ]
        return self.take(np.lexsort([self.weight, *reversed(means)]))

    @staticmethod
    def concat(parts: Sequence[UndatedSpells]) -> UndatedSpells:
        """All mixture rows of several, one after another; at least one, all on the same clocks."""
        before = np.cumsum([0, *(len(part) for part in parts[:-1])])
        return UndatedSpells(
            Spells.concat([part.nodes for part in parts]),
            np.concatenate([part.row + first for part, first in zip(parts, before, strict=True)]),
            np.concatenate([part.share for part in parts]),
            np.concatenate([part.weight for part in parts]),
            tuple(ref for part in parts for ref in part.refs),
        )


def undated_rows(
    history: PartHistory, line: Timeline, chosen: Sequence[Clock], repairs: VirtualAge
) -> list[UndatedRow]:
    """The mixture rows of a part with a day or a distance too rough to count; none where nothing is, or nothing can be told."""
    on_distance = "distance" in chosen
    if not _spread_out(line, on_distance=on_distance):
        return []
    try:
        lines = list(_assumed(history, line, on_distance=on_distance))
        per_day = [(share, _rows(history, each, chosen, repairs)) for share, each in lines]
    except ClockUnknownError:
        return []
    counts = {len(rows) for _, rows in per_day}
    if len(counts) != 1 or not any(_observed(rows) for _, rows in per_day):
        return []
    total = sum(share for share, _ in per_day)
    shares = tuple(share / total for share, _ in per_day)
    ref = history.fitment.ref
    return [
        UndatedRow(ref, tuple(rows[k] for _, rows in per_day), shares, per_day[0][1][k].weight)
        for k in range(counts.pop())
    ]


def undated_spells(rows: Sequence[UndatedRow], chosen: Sequence[Clock]) -> UndatedSpells | None:
    """Mixture rows in one set of columns; None where there are none."""
    nodes = spells_of([replace(node, weight=1.0) for row in rows for node in row.nodes], chosen)
    if nodes is None:
        return None
    return UndatedSpells(
        nodes,
        np.repeat(np.arange(len(rows)), [len(row.nodes) for row in rows]),
        np.array([share for row in rows for share in row.share]),
        np.array([row.weight for row in rows]),
        tuple(row.ref for row in rows),
    )


def _spread_out(line: Timeline, *, on_distance: bool) -> bool:
    ends = [line.fitted] if line.removed is None else [line.fitted, line.removed]
    days = any(event.on.width_years > TOO_ROUGH["age"] for event in ends)
    return days or (on_distance and _far_from_readings(line.fitted))


def _far_from_readings(fitted: Event) -> bool:
    return (
        not fitted.written and fitted.km is not None and fitted.km[2] - fitted.km[0] > TOO_ROUGH["distance"]
    )


def _assumed(history: PartHistory, line: Timeline, *, on_distance: bool) -> Iterator[tuple[float, Timeline]]:
    """The part's timeline for each assumed fitting and removal, with its probability."""
    paced = on_distance and _far_from_readings(line.fitted)
    for fit_share, day in _fittings(history, line):
        for pace_share, fitted in _distances(history, day, line) if paced else [(1.0, day)]:
            for out_share, removed in _removals(line):
                if removed is None or fitted.on.likely <= removed.on.likely:
                    seen = line.last_seen if removed is None else removed
                    assumed = replace(line, fitted=fitted, removed=removed, last_seen=seen)
                    yield fit_share * pace_share * out_share, assumed


def _distances(history: PartHistory, fitted: Event, line: Timeline) -> Iterator[tuple[float, Event]]:
    """Distances at fitting, from the low to the high pace before the readings.

    Never beyond the next reading, nor beyond where the car was likely to be when it came under observation.
    """
    if line.track is None:
        return
    low, likely, high = line.track.bounds_on(fitted.on.likely)
    ceiling = line.track.bounds_on(max(fitted.on.likely, line.track.first[0]))[0]
    since = watched_from(history)
    if since is not None and since > fitted.on.likely:
        ceiling = min(ceiling, line.track.bounds_on(since)[1])
    for k in range(FITTING_PACES):
        z = NormalDist().inv_cdf((k + 0.5) / FITTING_PACES)
        reach = (high - likely) if z > 0 else (likely - low)
        km = min(ceiling, max(0.0, likely + reach * z / _Z90))
        yield 1.0 / FITTING_PACES, replace(fitted, km=(km, km, km))


def _fittings(history: PartHistory, line: Timeline) -> Iterator[tuple[float, Event]]:
    """Days on which it may have been fitted: spread evenly, but for the chance that it is the car's first."""
    fitted = line.fitted
    first = 0.0
    if history.fitment.original_chance and history.vehicle.built is not None:
        first = history.fitment.original_chance
        yield first, _on_day(fitted, max(fitted.on.earliest, history.vehicle.built.likely), line)
    if first < 1.0:
        for share, event in _days(fitted, line, FITTING_DAYS):
            yield (1.0 - first) * share, event


def _removals(line: Timeline) -> Iterator[tuple[float, Event | None]]:
    if line.removed is None:
        yield 1.0, None
    else:
        yield from _days(line.removed, line, REMOVAL_DAYS)


def _days(event: Event, line: Timeline, count: int) -> Iterator[tuple[float, Event]]:
    if event.on.width_years <= TOO_ROUGH["age"]:
        yield 1.0, event
        return
    first, last = event.on.earliest, event.on.latest
    if event.on.open_start:
        first = max(first, last - timedelta(days=round(OLDEST_PART_YEARS * DAYS_PER_YEAR)))
    days = (last - first).days
    for k in range(count):
        yield 1.0 / count, _on_day(event, first + timedelta(days=int((k + 0.5) * days / count)), line)


def _on_day(event: Event, day: date, line: Timeline) -> Event:
    """The event on an assumed day, where the car then stood; a figure that was written stays."""
    km = event.km
    if not event.written and line.track is not None:
        km = (line.track.km_on(day),) * 3
    return replace(event, on=UncertainDate.on(day), km=km)


def _rows(history: PartHistory, line: Timeline, chosen: Sequence[Clock], repairs: VirtualAge) -> list[Row]:
    clocks = virtual_clocks(part_clocks(history, line), line, repairs)
    spans = episodes(history, line, split=repairs.sets_back)
    return [row for span in spans for row in rows_of(clocks, span, chosen, as_known=True)]


def _observed(rows: Sequence[Row]) -> bool:
    """Whether anything at all was seen: a failure, or time after entry."""
    return any(upper < np.inf or lower > entry for row in rows for entry, lower, upper in row.bounds.values())
