"""One part's clocks as a forecast keeps them: from when and from which odometer it counts, and what is unknown."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, Self

from planner.history.clocks import ClockUnknownError, part_clocks
from planner.history.dates import FIRST_MOTOR_CAR, years_between
from planner.history.odometer import OdometerTrack
from planner.history.records import MOST_KM
from planner.history.timeline import timeline
from planner.history.virtual_age import AS_OLD_AS_BEFORE, virtual_clocks
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from planner.history.clocks import PartClocks
    from planner.history.part_history import Event, PartHistory, Timeline
    from planner.history.spells import Clock
    from planner.history.virtual_age import VirtualAge

UNREPAIRED = (0.0, 0.0)
"""Km and years that repairs have taken off where there were none."""

OLDEST_PART_YEARS = 40.0
"""A part of wholly unknown age on a car of unknown age counts as at most this old (judgement: it bounds what
"treated as old" may mean; whatever wears on an age clock is long due by then)."""


@dataclass(frozen=True)
class Counted:
    """From when and from which odometer a part's clocks count; a donor's life is taken off beforehand.

    Attributes:
        earliest, likely, latest: the day from which its age counts.
        km: low, likely and high odometer from which its distance counts.
        age_unknown: nobody knows what it had done before; it is treated as old.
        found_bad: the day on which it was found worn or failed, while it is still fitted; None otherwise.
        finding: what was found at the last look: "good", "near limit", "worn to limit", "failed"; None: no look.
        set_back: km and years that repairs have taken off its wear; limits count on without them.
        next_fitted: the day on which another was fitted in its place while no removal of it is on record; None otherwise.
    """

    earliest: date
    likely: date
    latest: date
    km: tuple[float, float, float]
    age_unknown: bool
    found_bad: date | None = None
    finding: str | None = None
    set_back: tuple[float, float] = UNREPAIRED
    next_fitted: date | None = None

    @property
    def less_worn(self) -> Self:
        """The same part as its wear counts: from as much later as repairs have taken off."""
        km, years = self.set_back
        days = timedelta(days=round(years * DAYS_PER_YEAR))
        return replace(
            self,
            earliest=self.earliest + days,
            likely=self.likely + days,
            latest=self.latest + days,
            km=(self.km[0] + km, self.km[1] + km, self.km[2] + km),
            set_back=UNREPAIRED,
        )

    def clocks_on(self, day: date, odometer_km: float) -> tuple[float, float]:
        """Distance in km and age in years on a day; a part of unknown age at its oldest."""
        since, km = (self.earliest, self.km[0]) if self.age_unknown else (self.likely, self.km[1])
        return max(0.0, odometer_km - km), max(0.0, years_between(since, day))

    def to_json(self) -> dict[str, Any]:
        """As a forecast stores it."""
        bad = None if self.found_bad is None else self.found_bad.isoformat()
        days = [day.isoformat() for day in (self.earliest, self.likely, self.latest)]
        return {
            "days": days,
            "km": list(self.km),
            "age_unknown": self.age_unknown,
            "found_bad": bad,
            "finding": self.finding,
            "next_fitted": None if self.next_fitted is None else self.next_fitted.isoformat(),
            "set_back": None if self.set_back == UNREPAIRED else list(self.set_back),
        }

    @classmethod
    def from_json(cls, content: dict[str, Any]) -> Self:
        """What `to_json` wrote."""
        earliest, likely, latest = (date.fromisoformat(day) for day in content["days"])
        low, middle, high = content["km"]
        bad, back = content["found_bad"], content.get("set_back") or UNREPAIRED
        following = content.get("next_fitted")
        return cls(
            earliest,
            likely,
            latest,
            (low, middle, high),
            content["age_unknown"],
            None if bad is None else date.fromisoformat(bad),
            content["finding"],
            (back[0], back[1]),
            None if following is None else date.fromisoformat(following),
        )


def counted(
    history: PartHistory, track: OdometerTrack, today: date, repairs: VirtualAge = AS_OLD_AS_BEFORE
) -> Counted:
    """Where the clocks of a part in service count from.

    Args:
        history: the part; its own events are checked against each other and against the track.
        track: the car's true distance, or a stand-in where no figure was ever written.
        today: no record may be later.
        repairs: how far repairs set its clocks back; a part of unknown age stays at its oldest.

    Raises:
        RecordError: two records contradict each other, naming the field.
    """
    since = _counted(history, track, today, repairs)
    following = history.next_fitted
    return since if following is None else replace(since, next_fitted=following.likely)


def stand_in(today: date) -> OdometerTrack:
    """For a car without any figure: only differences matter, and those come from what such cars usually do."""
    return OdometerTrack.from_km([today], [MOST_KM / 2])


def _counted(history: PartHistory, track: OdometerTrack, today: date, repairs: VirtualAge) -> Counted:
    line = timeline(history, today)
    brought = part_clocks(history, line)
    km = line.fitted.km or _on_track(line.fitted, track)
    days = (line.fitted.on.earliest, line.fitted.on.likely, line.fitted.on.latest)
    bad, finding = last_finding(line)
    if history.fitment.fitted_on is None or brought.years_at_fitting is None or brought.km_at_fitting is None:
        earliest = _oldest(history, days[2])
        low = min(track.bounds_on(earliest)[0], km[0])
        likely = max(days[1], earliest)
        span = (low, km[1], km[2])
        return Counted(earliest, likely, days[2], span, age_unknown=True, found_bad=bad, finding=finding)
    donor = timedelta(days=round(brought.years_at_fitting * DAYS_PER_YEAR))
    span = (km[0] - brought.km_at_fitting, km[1] - brought.km_at_fitting, km[2] - brought.km_at_fitting)
    first, middle, last = (day - donor for day in days)
    back = _set_back(brought, line, repairs)
    return Counted(
        first, middle, last, span, age_unknown=False, found_bad=bad, finding=finding, set_back=back
    )


def _set_back(clocks: PartClocks, line: Timeline, repairs: VirtualAge) -> tuple[float, float]:
    """What repairs have taken off each clock; nothing off one that no figure tells."""
    virtual = virtual_clocks(clocks, line, repairs)
    if virtual is clocks:
        return UNREPAIRED
    last = [look for look in line.looks if look.what == "repaired"][-1]

    def taken(clock: Clock) -> float:
        try:
            return max(0.0, clocks.at(last, clock) - virtual.entry_at(last, clock))
        except ClockUnknownError:
            return 0.0

    return taken("distance"), taken("age")


def _on_track(fitted: Event, track: OdometerTrack) -> tuple[float, float, float]:
    first, last = track.bounds_on(fitted.on.earliest), track.bounds_on(fitted.on.latest)
    return first[0], min(max(track.km_on(fitted.on.likely), first[0]), last[2]), last[2]


def _oldest(history: PartHistory, latest: date) -> date:
    """The earliest day from which a part of unknown past can count: when it was made, or its car, unless it comes from another."""
    bound = latest - timedelta(days=round(OLDEST_PART_YEARS * DAYS_PER_YEAR))
    car = None if history.fitment.condition == "second-hand" else history.vehicle.built
    known = [day.earliest for day in (history.fitment.made_on, car) if day is not None]
    return max(known) if known else max(bound, FIRST_MOTOR_CAR)


def last_finding(line: Timeline) -> tuple[date | None, str | None]:
    """The day on which the part was found bad and not repaired since, and what the last look found."""
    bad, finding = None, None
    for look in line.looks:
        if look.what == "repaired":
            bad, finding = None, None
        elif look.finding is not None:
            finding = look.finding
            bad = look.on.likely if finding in ("worn to limit", "failed") else None
    return bad, finding
