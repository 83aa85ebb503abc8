"""From dial figures to true distance: miles and km, five-digit rollover, replaced instruments; falling readings refused."""

from __future__ import annotations

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

UNCOUNTED_DIAL_KM_PER_YEAR = 30_000.0
"""Where nobody counted the dial's digits and the car's own pace is unknown, a rollover must not need more than this."""

TYPICAL_KM_PER_YEAR = 1_400.0
"""Median yearly distance of a cherished old car: 1,413 km mean in a world survey of about 55,000 owners, 936 in Spain."""

INSTRUMENT_TOLERANCE = 0.05
"""Odometers of the period may be wrong by 5 % either way (no rule bound them; UNECE R39 speaks of speedometers)."""


@dataclass(frozen=True)
class Point:
    """One reading made true.

    Attributes:
        on: the day.
        km: true distance since the first reading's zero.
        offset_km: what was added to the figure on the dial.
        rollovers: how often the dial had passed its end, on this instrument.
        digits: digits of the dial, as far as known.
        plus_minus_km: doubt about `km` beyond the instrument's own, from rough figures and unrecorded gaps.
    """

    on: date
    km: float
    offset_km: float
    rollovers: int
    digits: int | None
    plus_minus_km: float


def true_points(readings: Sequence[OdometerReading]) -> tuple[list[Point], list[str]]:
    """Turn readings into true, never falling distance.

    Args:
        readings: in any order; those of one day are taken by rising figure unless one starts a new instrument.

    Returns:
        The points in order of time, and in words what had to be assumed.

    Raises:
        RecordError: `readings[i].reading` where a figure falls and neither rollover nor a new instrument explains it,
            with i the place in the order given.
    """
    points: list[Point] = []
    notes: list[str] = []
    for index, reading in _in_order(readings):
        if reading.statement == "not actual":
            notes.append(f"{reading.read_on}: figure stated as not actual, not used")
            continue
        points.append(_next_point(points, reading, index, notes))
    return points, notes


def _in_order(readings: Sequence[OdometerReading]) -> list[tuple[int, OdometerReading]]:
    turned = {r.read_on for r in readings if r.new_instrument or r.rollovers}
    numbered = list(enumerate(readings))
    return sorted(
        numbered, key=lambda item: (item[1].read_on, 0.0 if item[1].read_on in turned else item[1].reading.km)
    )


def _next_point(points: list[Point], reading: OdometerReading, index: int, notes: list[str]) -> Point:
    if not points:
        return _first_point(reading, notes)
    last = points[-1]
    if reading.new_instrument:
        return _new_instrument(points, reading, notes)
    digits = reading.dial_digits or last.digits
    plain = _on_same_turn(last, reading, digits)
    if plain.km >= last.km:
        _note_pace(last, plain, notes)
        return plain
    turned = _rolled_over(points, plain, reading)
    if turned is None:
        raise _falling(last, plain, reading, index)
    notes.append(f"{reading.read_on}: dial passed {10 ** _dial(digits):,} since {last.on}")
    return turned


def _first_point(reading: OdometerReading, notes: list[str]) -> Point:
    turns = reading.rollovers or 0
    if reading.statement == "exceeds mechanical limits" and reading.rollovers is None:
        turns = 1
        notes.append(f"{reading.read_on}: stated to exceed the dial; one rollover assumed")
    offset = turns * _full_turn(reading, reading.dial_digits)
    return Point(
        reading.read_on,
        reading.reading.km + offset,
        offset,
        turns,
        reading.dial_digits,
        reading.reading.plus_minus_km,
    )


def _on_same_turn(last: Point, reading: OdometerReading, digits: int | None) -> Point:
    turns = last.rollovers if reading.rollovers is None else reading.rollovers
    offset = last.offset_km + (turns - last.rollovers) * _full_turn(reading, digits)
    doubt = max(reading.reading.plus_minus_km, _carried(last))
    return Point(reading.read_on, reading.reading.km + offset, offset, turns, digits, doubt)


def _carried(last: Point) -> float:
    """Doubt of an unrecorded gap stays with every later figure; that of one rough figure does not."""
    return last.plus_minus_km if last.offset_km and last.plus_minus_km > 0 and last.rollovers == 0 else 0.0


def _rolled_over(points: list[Point], plain: Point, reading: OdometerReading) -> Point | None:
    """The next turn of the dial, where that explains the fall; None where it does not."""
    if reading.rollovers is not None or _dial(plain.digits) > 5 or reading.reading.value >= 100_000:
        return None
    turn = _full_turn(reading, plain.digits)
    turned = replace(
        plain, km=plain.km + turn, offset_km=plain.offset_km + turn, rollovers=plain.rollovers + 1
    )
    last = points[-1]
    shown = last.km - last.offset_km
    years = years_between(last.on, plain.on)
    if shown >= turn or turned.km - last.km > _most_per_year(points, plain.digits) * years:
        return None
    return turned


def _most_per_year(points: list[Point], digits: int | None) -> float:
    if digits is not None:
        return FASTEST_KM_PER_YEAR
    years = years_between(points[0].on, points[-1].on)
    if years < 0.5:
        return UNCOUNTED_DIAL_KM_PER_YEAR
    own = (points[-1].km - points[0].km) / years
    return min(FASTEST_KM_PER_YEAR, max(5.0 * own, 10_000.0))


def _new_instrument(points: list[Point], reading: OdometerReading, notes: list[str]) -> Point:
    last = points[-1]
    years = years_between(last.on, reading.read_on)
    gap = pace(points) * years
    turns = reading.rollovers or 0
    km = last.km + gap
    if years > 0:
        notes.append(
            f"{reading.read_on}: new instrument; about {gap:,.0f} km since {last.on} taken from the car's pace"
        )
    return Point(
        reading.read_on, km, km - reading.reading.km, turns, reading.dial_digits, last.plus_minus_km + gap
    )


def pace(points: Sequence[Point]) -> float:
    """Mean km per year over the points so far; the typical figure for such cars where they span less than half a year."""
    if points:
        years = years_between(points[0].on, points[-1].on)
        if years >= 0.5:
            return (points[-1].km - points[0].km) / years
    return TYPICAL_KM_PER_YEAR


def _dial(digits: int | None) -> int:
    return 5 if digits is None else digits


def _full_turn(reading: OdometerReading, digits: int | None) -> float:
    return to_km(float(10 ** _dial(digits)), reading.reading.unit)


def _note_pace(last: Point, point: Point, notes: list[str]) -> None:
    driven, years = point.km - last.km, years_between(last.on, point.on)
    if driven > 5_000.0 + FASTEST_KM_PER_YEAR * years:
        notes.append(
            f"{point.on}: {driven:,.0f} km since {last.on} is more than a car is driven; was a tenth read as a whole unit?"
        )


def _falling(last: Point, plain: Point, reading: OdometerReading, index: int) -> RecordError:
    before = f"{last.km - last.offset_km:,.0f} km shown on {last.on}"
    wanted = (
        f"a reading not below the one before ({before}), or what explains the fall: a new instrument, a change of unit, or "
        f"a dial of five digits that passed its end at a believable yearly distance"
    )
    shown = (
        f"{reading.reading.value:,.0f} {reading.reading.unit} ({reading.reading.km:,.0f} km) on {plain.on}"
    )
    return RecordError(f"readings[{index}].reading", wanted, shown)
