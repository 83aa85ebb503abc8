"""Parts that were measured: where their own wear path puts the limit, as a forecast keeps it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Self, cast

from planner.errors import InputError, RecordError, WearContradicted, WearUneven
from planner.history.measurements import measured_wear
from planner.interval import best_wait
from planner.interval.wording import rounded, years_in_words
from planner.life.measured.path_life import life_on_path, limit_points
from planner.life.measured.wear_path import wear_path
from planner.units import from_km

if TYPE_CHECKING:
    from collections.abc import Mapping

    from api.bridge.forecasts.clocks import Counted
    from api.bridge.in_force.models import InForce
    from planner.catalogue import BookMeasure, PartKind
    from planner.history.measurements import MeasuredWear
    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock
    from planner.interval import Cap, Interval
    from planner.life.measured.wear_path import WearPath
    from planner.life.model import Life
    from planner.units import DistanceUnit
    from planner.usage import Usage

_WAY = 2
"""Raised when the way from measurements to a path changes, so that stored paths are made anew."""

_THINNED = 4
"""Every so many draws of a life are used for a path: it is averaged over far more points than that."""


NO_WEAR = "as no wear does (an unrecorded renewal, a wrong figure or a wrong unit?): they are left aside and such parts' usual life stands"
"""What is said where measurements go back from the limit."""


@dataclass(frozen=True)
class Seen:
    """What was measured on one part since its figure was last set.

    Attributes:
        wear: the measurements.
        limit: where the part must be renewed.
        error: sd of a measurement, or None where the kind's book states none.
        last_on: day of the last one.
        passed_on: day on which the limit was first found reached; None: not yet.
    """

    wear: MeasuredWear
    limit: float
    error: float | None
    last_on: date
    passed_on: date | None

    @property
    def mark(self) -> list[Any]:
        """What a path is made from: while it is the same, so is the path."""
        wear = self.wear
        return [_WAY, wear.clock, wear.at.tolist(), wear.value.tolist(), wear.unit, self.limit, wear.set_at]


@dataclass(frozen=True)
class OnPath:
    """A measured part's forecast.

    Attributes:
        mark: what it was made from.
        clock: that the figure was measured against.
        points: clocks from fitting (km or years) at which the limit is reached, each as likely; empty for one measurement, whose
            rate is the kind's, and for measurements that no wear can have made: the life is then the kind's too.
        words: what was measured, and where the limit is.
        last_on: day of the last measurement.
        reached: the part's clock then.
    """

    mark: list[Any]
    clock: Clock
    points: tuple[float, ...]
    words: str
    last_on: date
    reached: float

    def to_json(self) -> dict[str, Any]:
        """As a forecast stores it."""
        return vars(self) | {"points": list(self.points), "last_on": self.last_on.isoformat()}

    @classmethod
    def from_json(cls, content: Mapping[str, Any] | None) -> Self | None:
        """What `to_json` wrote."""
        if content is None:
            return None
        read = {"points": tuple(content["points"]), "last_on": date.fromisoformat(content["last_on"])}
        return cls(**{**content, **read})

    def life(self, life: Life) -> Life:
        """The part's own life, its kind's where the measurements tell no rate."""
        return life_on_path(life, self.clock, self.points) if self.points else life


def seen(history: PartHistory, kind: PartKind, today: date) -> Seen | None:
    """The measurements of a part that has a limit to reach; None where there are none, or no limit is known.

    A figure of which the unit has changed between two looks is left alone: the records that say so are refused at the door.
    """
    if not any(look.measurement is not None for look in history.inspections):
        return None
    wear = _wear(history, kind, today)
    if wear is None:
        return None
    book = kind.measured if kind.measured is not None and kind.measured.unit == wear.unit else None
    limit = wear.limit if wear.limit is not None else _book_limit(book, wear)
    if limit is None:
        return None
    falling = book.falling if book is not None else limit < float(wear.value[0])
    days = sorted(look.inspected_on for look in history.inspections if look.measurement is not None)
    looked = days[-len(wear.at) :]
    beyond = [
        day
        for day, value in zip(looked, wear.value, strict=True)
        if value == limit or (value < limit) == falling
    ]
    return Seen(wear, limit, None if book is None else book.error, looked[-1], beyond[0] if beyond else None)  # fmt: skip


def on_path(found: Seen, force: InForce, unit: DistanceUnit) -> OnPath:
    """Where a part's own path puts its limit.

    With one measurement, or figures that no wear can have made, its kind's life stays the word on it. Where its rate has changed
    the last two measurements are followed.
    """
    wear, clock = found.wear, found.wear.clock
    reached = float(wear.set_at + wear.at[-1])
    said = f"Measured {wear.value[-1]:g} {wear.unit} on {found.last_on.isoformat()}, limit {found.limit:g} {wear.unit}"

    def answer(rest: str, points: tuple[float, ...] = ()) -> OnPath:
        return OnPath(found.mark, clock, points, f"{said}{rest}.", found.last_on, reached)

    if found.passed_on is not None:
        return answer(": the limit is reached")
    if len(wear.at) < 2:
        return answer(": one measurement: the rate is that of such parts")
    try:
        path, basis = _path(found, force.life)
    except WearContradicted:
        return answer(f": {_figures(wear)} go back from it, {NO_WEAR}")
    except InputError:  # measured along no line that leads to the limit
        return answer(": the measurements show no wear towards it yet: such parts' usual life stands")
    low, likely, high = (_far(at, clock, unit) for at in path.remaining)
    away = f"; at this part's own wear it was then about {likely} away ({low} to {high}), from {basis}"
    return answer(away, limit_points(path, wear.set_at))


def _path(found: Seen, life: Life) -> tuple[WearPath, str]:
    """The path as of the last measurement, and what it rests on in words."""
    thinned = replace(life, draws=life.draws[::_THINNED])
    wear = replace(found.wear, now=float(found.wear.at[-1]))
    try:
        path = wear_path(wear, thinned, limit=found.limit, error=found.error)
    except WearUneven:
        last = replace(wear, at=wear.at[-2:], value=wear.value[-2:])
        path = wear_path(last, thinned, limit=found.limit, error=found.error)
        return path, f"the last {path.basis} (its rate has changed: {_figures(wear)})"
    return path, path.basis


def _figures(wear: MeasuredWear) -> str:
    return f"{', '.join(f'{value:g}' for value in wear.value)} {wear.unit}"


def renewal(
    own: OnPath, interval: Interval, force: InForce, cap: Cap, since: Counted, usage: Usage
) -> Interval:
    """The interval of one measured part: best for its own life, never past the likely day of its limit.

    It is worked out from the last measurement, so that the days don't move while nobody looks.

    Args:
        own: its path.
        interval: of a new part of the kind; what it costs a year is what the successor will cost.
        force: what is in force.
        cap: the hard cap.
        since: from when its clocks count.
        usage: how the car is driven.
    """
    if not own.points:
        return interval
    km, years = since.clocks_on(own.last_on, usage.km_on(own.last_on))
    km, years = (own.reached, years) if own.clock == "distance" else (km, own.reached)
    rate = usage.km_per_year
    wait = best_wait(
        own.life(force.life), force.terms.costs, interval.cost_per_year,
        km=km, years=years, km_per_year=rate, max_risk=force.terms.max_risk, cap=cap, discount=force.terms.discount,
    )  # fmt: skip
    ahead = min(wait.wait_years, _likely(own, rate))
    never = ahead == float("inf")
    bound = "cost" if wait.bound_by == "run to failure" or ahead < wait.wait_years else wait.bound_by
    return replace(
        interval,
        years=years + ahead,
        km=km + rate * ahead if rate > 0 else None,
        run_to_failure=never,
        bound_by="run to failure" if never else cast("Any", bound),
        within_5_percent=(years + ahead, years + ahead),
        chance_by_then=wait.chance_by_then,
    )


def _likely(own: OnPath, rate: float) -> float:
    """Years from the last measurement to the likely day of the limit."""
    left = max(0.0, own.points[len(own.points) // 2] - own.reached)
    if own.clock == "age":
        return left
    return left / rate if rate > 0 else float("inf")


def _wear(history: PartHistory, kind: PartKind, today: date) -> MeasuredWear | None:
    """Against distance where the kind wears by it and the figures can be placed, else against age."""
    for clock in kind.clocks:
        try:
            found = measured_wear(history, cast("Clock", clock), today)
        except RecordError:
            return None
        if found is not None:
            return found
    return None


def _book_limit(book: BookMeasure | None, wear: MeasuredWear) -> float | None:
    if book is None or book.limit is not None:
        return None if book is None else book.limit
    if book.allowed is None:
        return None
    return float(wear.value[0]) + (-book.allowed if book.falling else book.allowed)


def _far(at: float, clock: str, unit: DistanceUnit) -> str:
    return f"{rounded(from_km(at, unit))} {unit}" if clock == "distance" else years_in_words(at)
