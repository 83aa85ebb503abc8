"""From dial figures to true distance: miles and km, rollover, replaced instruments; unexplained falls refused."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.errors import RecordError
from planner.history.dates import years_between
from planner.units import to_km

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from planner.history.records import OdometerReading

FASTEST_KM_PER_YEAR = 60_000.0
"""Beyond this a figure is more likely misread than driven (plausibility rule of the trade, expert judgement)."""

ROLLOVER_KM_PER_YEAR = 30_000.0
"""A rollover that needs more is not believed of a car whose own pace does not come near it (expert judgement)."""

TYPICAL_KM_PER_YEAR = 1_400.0
"""Yearly distance of a cherished old car: mean 1,413 km in a world survey of about 55,000 owners, 936 km in Spain."""

FURTHEST_DAY_KM = 2_000.0
"""No car goes further in a day: on the day of a new instrument, a figure further off was read from the old one."""


SLOPPY_DATES_KM = 10_000.0
"""Papers are dated late or early: so much more than that may stand between two figures (expert judgement)."""


@dataclass(frozen=True)
class Point:
    """One reading made true.

    Attributes:
        on: the day.
        km: true distance.
        offset_km: what was added to the figure on the dial.
        rollovers: how often the dial had passed its end, on this instrument.
        digits: digits of the dial, as far as known.
        rough_km: half-width of the doubt of this figure alone ("52,000 or so").
        gap_km: doubt that all figures share since a gap in the record (a replaced instrument).
        shown: the figure as written, in words, for messages.
    """

    on: date
    km: float
    offset_km: float = 0.0
    rollovers: int = 0
    digits: int | None = None
    rough_km: float = 0.0
    gap_km: float = 0.0
    shown: str = ""


def true_points(readings: Sequence[OdometerReading]) -> tuple[list[Point], list[str]]:
    """Turn readings into true, never falling distance.

    Args:
        readings: in any order; those of one day are taken by rising figure, those off an old instrument before a new one.

    Returns:
        The points in order of time, and in words what had to be assumed.

    Raises:
        RecordError: `readings[i].reading` where a figure falls and neither rollover nor a new instrument explains it,
            or rises further than any car goes, with i the place in the order given.
    """
    points: list[Point] = []
    notes: list[str] = []
    for index, reading in _in_order(readings):
        if reading.statement == "not actual":
            notes.append(f"{reading.read_on}: figure stated as not actual, not used")
            continue
        points.append(_next_point(points, reading, index, notes))
    return points, notes


def full_turn_km(digits: int | None, unit: str) -> float:
    """Distance after which a dial shows the same figure again, in km; five digits where nobody counted."""
    return to_km(float(10 ** (5 if digits is None else digits)), "mi" if unit == "mi" else "km")


def pace(points: Sequence[Point]) -> float | None:
    """Mean km per year over the points; None where they span less than half a year."""
    if len(points) > 1 and (years := years_between(points[0].on, points[-1].on)) >= 0.5:
        return (points[-1].km - points[0].km) / years
    return None


def rollover_believable(near: Sequence[Point], driven_km: float, years: float, turn_km: float) -> bool:
    """Whether a dial can have passed its end between two figures.

    The distance must be one that the car may have gone: up to five times its own pace, or `ROLLOVER_KM_PER_YEAR`. Where
    nobody counted the digits of the dial, the figure must also have fallen by more than half a turn, because a slip of the
    pen looks like a car that went nearly all the way round (expert judgement).

    Args:
        near: the points known on one side; the last or first of them carries the dial's digits.
        driven_km: distance between the two figures if the dial turned once.
        years: time between them.
        turn_km: one turn of the dial.
    """
    own = pace(near)
    most = ROLLOVER_KM_PER_YEAR if own is None else max(ROLLOVER_KM_PER_YEAR, 5.0 * own)
    counted = near[-1].digits is not None
    return 0.0 <= driven_km <= min(FASTEST_KM_PER_YEAR, most) * years and (
        counted or driven_km < turn_km / 2.0
    )


def _in_order(readings: Sequence[OdometerReading]) -> list[tuple[int, OdometerReading]]:
    """By day; within a day by counted rollovers, old instrument before new, then by figure."""
    swapped = {r.read_on: (index, r.reading.km) for index, r in enumerate(readings) if r.new_instrument}

    def place(item: tuple[int, OdometerReading]) -> tuple[date, int, int, float]:
        index, reading = item
        turn = reading.rollovers or 0
        if reading.read_on not in swapped:
            return reading.read_on, turn, 0, reading.reading.km
        at, new = swapped[reading.read_on]
        off_the_old = index < at or abs(reading.reading.km - new) > FURTHEST_DAY_KM
        rank = 1 if index == at else 0 if off_the_old else 2
        return reading.read_on, 0, rank, reading.reading.km

    return sorted(enumerate(readings), key=place)


def _next_point(points: list[Point], reading: OdometerReading, index: int, notes: list[str]) -> Point:
    if not points:
        return _first_point(reading, notes)
    last = points[-1]
    if reading.new_instrument:
        return _new_instrument(points, reading, notes)
    plain = _on_same_turn(last, reading)
    if plain.km >= last.km:
        _refuse_impossible(last, plain, index)
        _note_pace(last, plain, notes)
        return plain
    if _agree(points, plain):
        return _agreed(points, plain, notes)
    turned = _rolled_over(points, plain, reading)
    if turned is None:
        raise _falling(last, plain, index)
    notes.append(f"{reading.read_on}: the dial passed its end since {last.on}")
    return turned


def _shown(reading: OdometerReading) -> str:
    return f"{reading.reading.value:,.0f} {reading.reading.unit} on {reading.read_on}"


def _first_point(reading: OdometerReading, notes: list[str]) -> Point:
    turns = reading.rollovers or 0
    if reading.statement == "exceeds mechanical limits" and reading.rollovers is None:
        turns = 1
        notes.append(f"{reading.read_on}: stated to exceed the dial; one rollover assumed")
    offset = turns * full_turn_km(reading.dial_digits, reading.reading.unit)
    km, rough = reading.reading.km + offset, reading.reading.plus_minus_km
    return Point(reading.read_on, km, offset, turns, reading.dial_digits, rough, 0.0, _shown(reading))


def _on_same_turn(last: Point, reading: OdometerReading) -> Point:
    digits = reading.dial_digits or last.digits
    turns = last.rollovers if reading.rollovers is None else reading.rollovers
    offset = last.offset_km + (turns - last.rollovers) * full_turn_km(digits, reading.reading.unit)
    km, rough = reading.reading.km + offset, reading.reading.plus_minus_km
    return Point(reading.read_on, km, offset, turns, digits, rough, last.gap_km, _shown(reading))


def _agree(points: list[Point], plain: Point) -> bool:
    """Whether a falling figure agrees with those before it within what is rough about them."""
    last = points[-1]
    floor = points[-2].km if len(points) > 1 and plain.rough_km < last.rough_km else -math.inf
    return last.km - plain.km <= last.rough_km + plain.rough_km and floor <= plain.km + plain.rough_km


def _agreed(points: list[Point], plain: Point, notes: list[str]) -> Point:
    """Two figures that agree within their doubt: the rougher of them gives way to the other."""
    last = points[-1]
    notes.append(f"{plain.on}: {plain.shown} agrees with {last.shown} within what is rough about them")
    if plain.rough_km >= last.rough_km:
        return replace(plain, km=last.km)
    floor = points[-2].km if len(points) > 1 else -math.inf
    points[-1] = replace(last, km=max(plain.km, floor))
    return replace(plain, km=max(plain.km, floor))


def _rolled_over(points: list[Point], plain: Point, reading: OdometerReading) -> Point | None:
    """The next turn of the dial, where that explains the fall; None where it does not."""
    counted = reading.rollovers is not None
    if counted or (plain.digits or 5) != 5 or reading.reading.value >= 100_000:
        return None
    last = points[-1]
    turn = full_turn_km(plain.digits, reading.reading.unit)
    turned = replace(
        plain, km=plain.km + turn, offset_km=plain.offset_km + turn, rollovers=plain.rollovers + 1
    )
    near = [*points[:-1], replace(last, digits=plain.digits)]
    years = years_between(last.on, plain.on)
    return turned if rollover_believable(near, turned.km - last.km, years, turn) else None


def _new_instrument(points: list[Point], reading: OdometerReading, notes: list[str]) -> Point:
    """The first figure of another instrument: the distance since the last one is taken from the car's pace.

    Where the new dial shows a little more than that, it started at zero and its own figure is the better guess.
    """
    last = points[-1]
    own = pace(points)
    gap = (TYPICAL_KM_PER_YEAR if own is None else own) * years_between(last.on, reading.read_on)
    shown = reading.reading.km
    driven = shown if gap < shown <= 3.0 * gap else gap
    if driven > 0:
        notes.append(f"{reading.read_on}: new instrument; about {driven:,.0f} km since {last.on} assumed")
    km = last.km + driven
    doubt = last.gap_km + driven
    rough, turns = reading.reading.plus_minus_km, reading.rollovers or 0
    return Point(reading.read_on, km, km - shown, turns, reading.dial_digits, rough, doubt, _shown(reading))


def _refuse_impossible(last: Point, point: Point, index: int) -> None:
    most = SLOPPY_DATES_KM + FURTHEST_DAY_KM * (point.on - last.on).days
    if point.km - last.km > most + last.rough_km + point.rough_km + last.gap_km:
        wanted = f"at most {most:,.0f} km more than {last.shown}: no car goes further in that time"
        raise RecordError(f"readings[{index}].reading", wanted, point.shown)


def hard_to_believe(driven_km: float, years: float) -> bool:
    """Whether a distance between two readings is more likely misread than driven (plausibility rule of the trade)."""
    return driven_km > 5_000.0 + FASTEST_KM_PER_YEAR * years


def _note_pace(last: Point, point: Point, notes: list[str]) -> None:
    driven, years = point.km - last.km, years_between(last.on, point.on)
    if hard_to_believe(driven, years):
        notes.append(
            f"{point.on}: {driven:,.0f} km since {last.on}, more than a car is driven: was a tenth read as a whole?"
        )


def _falling(last: Point, plain: Point, index: int) -> RecordError:
    wanted = (
        f"a reading not below the one before ({last.shown}), or what explains the fall: a new instrument, another unit, "
        "or a dial of five digits that passed its end at a believable yearly distance"
    )
    return RecordError(f"readings[{index}].reading", wanted, plain.shown)
