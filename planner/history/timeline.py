"""Places a part's events in time and distance, and refuses records that contradict each other."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.errors import RecordError
from planner.history.dates import FIRST_MOTOR_CAR, UncertainDate
from planner.history.dial import Point
from planner.history.odometer import OdometerTrack
from planner.history.part_history import Event, PartHistory, Timeline

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from planner.history.record_base import Record
    from planner.history.records import Distance, OdometerReading, Removal

ROUGH_DAY_YEARS = 1.0
"""A figure whose day is known less well than this says nothing about the car's pace."""

GRAIN_KM = 0.001
"""Figures that differ by less are the same: what is left of converting miles."""


def timeline(history: PartHistory, today: date) -> Timeline:
    """Place a part's events in time and distance.

    Args:
        history: the part.
        today: no record may be later.

    Raises:
        RecordError: naming the field, where a record is in the future or two records contradict each other: removed
            before fitted, seen after removed, a figure below an earlier one or against the car's other readings.
    """
    _refuse_future(history, today)
    drafts = _in_time(history, today)
    track = (history.track and history.track.until(today)) or _own_track(drafts)
    placed = _without_falls([_placed(draft, track) for draft in drafts])
    merged = _merged(track, placed)
    events = [_with_km(event, km, merged) for event, km in placed]
    removed = events[-1] if history.removal is not None else None
    looks = tuple(event for event in events[1:] if event is not removed)
    last_seen = _last_seen(events, removed, merged)
    if removed is None and history.next_fitted is not None:
        last_seen = _gone_by(history.next_fitted, last_seen, merged)
    return Timeline(events[0], looks, removed, last_seen, merged)


_Draft = tuple[Event, "Distance | None"]
_Placed = tuple[Event, "float | None"]


def _refuse_future(history: PartHistory, today: date) -> None:
    for field, record in _records(history):
        record.refuse_future(today, f"{field}.")


def _records(history: PartHistory) -> Iterator[tuple[str, Record]]:
    yield "vehicle", history.vehicle
    yield "fitment", history.fitment
    for index, inspection in enumerate(history.inspections):
        yield f"inspections[{index}]", inspection
    for index, repair in enumerate(history.repairs):
        yield f"repairs[{index}]", repair
    if history.removal is not None:
        yield "removal", history.removal


def _in_time(history: PartHistory, today: date) -> list[_Draft]:
    """Events in order of time, each day narrowed by the others; odometers as written beside them."""
    looks = _looks(history)
    latest = _latest_fitting(history, looks, today)
    fitted = _fitted(history, latest)
    for look, _ in looks:
        if look.on.latest < fitted.on.earliest:
            raise RecordError(
                f"{look.field}.{look.what}_on", f"a day not before the fitting, {fitted.on}", str(look.on)
            )
    drafts: list[_Draft] = [(fitted, history.fitment.odometer), *looks]
    if history.removal is not None:
        drafts.append((_removed(history.removal, drafts, today), history.removal.odometer))
        first_out = drafts[-1][0].on.latest
        narrowed = fitted.on.within(latest=first_out)
        if narrowed is not None:
            drafts[0] = (replace(fitted, on=narrowed), history.fitment.odometer)
    return drafts


def _looks(history: PartHistory) -> list[_Draft]:
    looks: list[_Draft] = [
        (
            Event(
                f"inspections[{i}]", UncertainDate.on(r.inspected_on), None, "inspected", finding=r.finding
            ),
            r.odometer,
        )
        for i, r in enumerate(history.inspections)
    ]
    looks += [
        (
            Event(f"repairs[{i}]", UncertainDate.on(r.repaired_on), None, "repaired", action=r.action),
            r.odometer,
        )
        for i, r in enumerate(history.repairs)
    ]
    return sorted(looks, key=_within_the_day)


def _within_the_day(draft: _Draft) -> tuple[date, float, bool]:
    """By day, then by the figure written; without one, looks before repairs."""
    event, odometer = draft
    repaired = event.what == "repaired"
    unwritten = math.inf if repaired else -math.inf
    return event.on.earliest, unwritten if odometer is None else odometer.km, repaired


def _latest_fitting(history: PartHistory, looks: Sequence[_Draft], today: date) -> date:
    """The last day on which the part can have been fitted; one of which nothing was written was there at the joining."""
    bounds = [today]
    if looks:
        bounds.append(looks[0][0].on.latest)
    unwritten = history.fitment.fitted_on is None and history.fitment.odometer is None
    if unwritten and history.vehicle.joined_on is not None:
        bounds.append(history.vehicle.joined_on)
    return min(bounds)


def _fitted(history: PartHistory, latest: date) -> Event:
    """The fitting, narrowed by the car's build date, the part's date code and the first look at it."""
    given = history.fitment.fitted_on
    wide = given or UncertainDate(FIRST_MOTOR_CAR, latest, latest, "unknown")
    known = [day.earliest for day in (history.vehicle.built, history.fitment.made_on) if day is not None]
    earliest = max(known, default=FIRST_MOTOR_CAR)
    if wide.latest < earliest:
        raise RecordError(
            "fitment.fitted_on", f"a day not before the car and the part were made, {earliest}", str(wide)
        )
    return Event("fitment", wide.within(earliest, latest) or wide.within(earliest) or wide, None, "fitted")


def _removed(removal: Removal, drafts: Sequence[_Draft], today: date) -> Event:
    fitted, last = drafts[0][0], drafts[-1][0]
    if removal.removed_on.latest < fitted.on.earliest:
        raise RecordError(
            "removal.removed_on", f"a day not before the fitting, {fitted.on}", str(removal.removed_on)
        )
    if removal.removed_on.latest < last.on.earliest:
        wanted = f"a day not after the removal, {removal.removed_on}"
        raise RecordError(f"{last.field}.{last.what}_on", wanted, str(last.on))
    narrowed = removal.removed_on.within(max(fitted.on.earliest, last.on.earliest), today)
    return Event("removal", narrowed or removal.removed_on, None, "removed")


def _own_track(drafts: Sequence[_Draft]) -> OdometerTrack | None:
    """A track from the figures written at this part's own events; None where there are none."""
    from planner.history.records import OdometerReading  # noqa: PLC0415 - loaded only when needed

    written = [(event, odometer) for event, odometer in drafts if odometer is not None]
    dated = [(event, odometer) for event, odometer in written if event.on.width_years < ROUGH_DAY_YEARS]
    written = dated or written[:1]
    if not written:
        return None
    readings = [OdometerReading(read_on=event.on.likely, reading=odometer) for event, odometer in written]
    try:
        return OdometerTrack.from_readings(readings)
    except RecordError as error:
        at = int(error.field.partition("[")[2].partition("]")[0])
        raise RecordError(f"{written[at][0].field}.odometer", error.wanted, _reading(readings[at])) from None


def _reading(reading: OdometerReading) -> str:
    return f"{reading.reading.value:,.0f} {reading.reading.unit} on {reading.read_on}"


def _placed(draft: _Draft, track: OdometerTrack | None) -> _Placed:
    """The event with its figure made true, and its day narrowed to when the car can have stood there.

    A rough figure that does not fit its neighbours as it stands but does within its doubt gives way to them.
    """
    event, odometer = draft
    if odometer is None or track is None:
        return event, None
    days = (event.on.earliest, event.on.latest)
    km = track.true_km(days[0], odometer, days[1])
    if km is None and any(track.true_km(days[0], end, days[1]) for end in odometer.ends):
        return event, None
    if km is None:
        shown = f"{odometer.value:,.0f} {odometer.unit} on {event.on}"
        raise RecordError(
            f"{event.field}.odometer", "a figure between the car's readings before and after", shown
        )
    rough = odometer.plus_minus_km
    if rough == 0.0:
        event = replace(event, on=event.on.within(*track.days_at(km)) or event.on)
    return replace(event, rough_km=rough), km


def _without_falls(placed: Sequence[_Placed]) -> list[_Placed]:
    """The same events; a figure below an earlier one is refused, or dropped where it is only rough."""
    kept: list[_Placed] = []
    highest, doubt, at = -math.inf, 0.0, ""
    for event, km in placed:
        if km is not None and km < highest - GRAIN_KM:
            if km + event.rough_km < highest - doubt:
                wanted = f"a figure not below {highest:,.0f} km, the one at {at}"
                raise RecordError(f"{event.field}.odometer", wanted, f"{km:,.0f} km")
            kept.append((event, None))
            continue
        if km is not None:
            highest, doubt, at = km, event.rough_km, event.field
        kept.append((event, km))
    return kept


def _merged(track: OdometerTrack | None, placed: Sequence[_Placed]) -> OdometerTrack | None:
    """The car's track with this part's own figures as further points, the rough ones left aside."""
    if track is None:
        return None
    points = {(point.on, point.km) for point in track.points}
    points |= {
        (event.on.likely, km)
        for event, km in placed
        if km is not None and event.rough_km == 0.0 and event.on.width_years < ROUGH_DAY_YEARS
    }
    return OdometerTrack(tuple(Point(day, km) for day, km in sorted(points)), track.notes, track.watched_from)


def _with_km(event: Event, km: float | None, track: OdometerTrack | None) -> Event:
    if km is not None:
        bounds: tuple[float, float, float] | None = (km - event.rough_km, km, km + event.rough_km)
    elif track is None:
        bounds = None
    else:
        lowest, highest = track.bounds_on(event.on.earliest), track.bounds_on(event.on.latest)
        bounds = (lowest[0], track.km_on(event.on.likely), highest[2])
    return replace(event, km=bounds, written=km is not None)


def _last_seen(events: Sequence[Event], removed: Event | None, track: OdometerTrack | None) -> Event:
    """The last time the part is known to have done its work: the removal, the last look or the car's last reading."""
    last = events[-1]
    if removed is not None or track is None:
        return last
    day, km = track.last
    if day < last.on.likely:
        return last
    return Event("readings", UncertainDate.on(day), (km, km, km), "inspected", finding="good")


def _gone_by(next_fitted: UncertainDate, last_seen: Event, track: OdometerTrack | None) -> Event:
    """The end of a part's watching where another was fitted in its place; the last time it was seen if that is earlier."""
    if last_seen.on.likely <= next_fitted.likely:
        return last_seen
    gone = Event("next_fitted", next_fitted, None, "inspected", finding="good")
    return _with_km(gone, None, track)
