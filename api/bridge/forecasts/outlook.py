"""Forecast rows seen from one day: clocks, window and chances by arithmetic with a stored life's draws; nothing is fitted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal, cast

from api.bridge.forecasts.coefficients import Coefficients
from api.bridge.forecasts.measured import OnPath
from api.bridge.forecasts.unknown_age import chance_ahead
from api.bridge.in_force import models
from planner.catalogue import load_catalogue
from planner.risk import Chance, failure_chance
from planner.schedule import DueDates, DueWindow
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.bridge.in_force.models import Stored
    from api.storage.tables import Forecast
    from planner.schedule.due import Decides

DecidedBy = Literal["distance", "age", "cap", "risk limit", "run to failure", "inspection"]

NO_REMOVAL = (
    "Another was fitted in its place on {day} and no removal of this one is on record: what is learnt of such parts takes it as "
    "gone by then. Write its removal down, or give each its own position."
)

A_YEAR = timedelta(days=365)


@dataclass(frozen=True)
class Until:
    """A chance of failing from the day asked about until another.

    Attributes:
        chance: mean and 80 % range.
        until: the last day that counts.
        words: as odds, and what the days are where that needs saying.
    """

    chance: Chance
    until: date
    words: str


@dataclass(frozen=True)
class Outlook:
    """One part in service, seen from one day.

    Attributes:
        row: its forecast.
        kept: the forecast's coefficients.
        stored: the life behind it.
        odometer_km: the car's true distance on that day.
        km, years: both clocks on that day; a part of unknown age at its oldest.
        worn: both clocks as its wear counts: less what repairs have taken off.
        dates: its due days, as they do not depend on the day.
        window: when it is due.
        decides: what decides.
        reason: why, in words.
        before_window: chance of failing before the window opens.
        to_window_end: chance of failing before the window closes.
    """

    row: Forecast
    kept: Coefficients
    stored: Stored
    odometer_km: float
    km: float
    years: float
    worn: tuple[float, float]
    dates: DueDates
    window: DueWindow
    decides: DecidedBy
    reason: str
    before_window: Until
    to_window_end: Until


def outlooks(session: Session, rows: Sequence[Forecast], as_of: date) -> list[Outlook]:
    """Forecasts seen from a day, in their order.

    Args:
        session: any session; lives not seen by this process yet are read with it.
        rows: forecasts of one fleet.
        as_of: the day.
    """
    if not rows:
        return []
    ids = {row.model_id for row in rows if row.model_id is not None}
    lives = models.stored(session, rows[0].fleet_id, ids)
    return [_outlook(row, lives.get(row.model_id or "") or models.book_of(row.kind), as_of) for row in rows]


def _outlook(row: Forecast, stored: Stored, as_of: date) -> Outlook:
    kept = Coefficients.from_json(row.coefficients)
    stored = replace(stored, life=stored.on_car(row.vehicle_id))
    own = OnPath.from_json(kept.measured)
    if own is not None:
        stored = replace(stored, life=own.life(stored.life))
    km, years = kept.clocks_on(as_of, row.as_of)
    worn = kept.since.less_worn.clocks_on(as_of, kept.odometer_on(as_of, row.as_of))
    dates = DueDates(
        row.due_earliest,
        row.due_likely,
        row.due_latest,
        kept.limit,
        cast("Decides", row.decides if row.decides != "inspection" else "age"),
        kept.since.age_unknown,
        to_a_limit=load_catalogue()[row.kind].end_of_life == "limit",
    )
    window = dates.as_of(as_of)
    before, to_end = _chances(kept, stored, worn, (row, window), as_of)
    return Outlook(
        row=row,
        kept=kept,
        stored=stored,
        odometer_km=kept.odometer_on(as_of, row.as_of),
        km=km,
        years=years,
        worn=worn,
        dates=dates,
        window=window,
        decides="inspection" if row.decides == "inspection" else window.decides,
        reason=_reason(row, kept, window),
        before_window=before,
        to_window_end=to_end,
    )


def _reason(row: Forecast, kept: Coefficients, window: DueWindow) -> str:
    gone = kept.since.next_fitted
    said = row.reason if gone is None else f"{row.reason} {NO_REMOVAL.format(day=gone.isoformat())}"
    bad = kept.since.found_bad
    if bad is not None:
        return f"Due now: it was found {_found(kept)} on {bad.isoformat()}. {said}"
    if window.status == "run to failure":
        return said
    near = " It was found near its limit when last looked at." if kept.since.finding == "near limit" else ""
    return f"{window.reason}{near} {said}"


def _found(kept: Coefficients) -> str:
    return "worn to its limit" if kept.since.finding == "worn to limit" else "failed"


def _chances(
    kept: Coefficients,
    stored: Stored,
    clocks: tuple[float, float],
    due: tuple[Forecast, DueWindow],
    as_of: date,
) -> tuple[Until, Until]:
    """Before the window opens, and before it closes; a window that is closed or absent is replaced by a year."""
    if kept.since.found_bad is not None:
        certain = Until(Chance(1.0, 1.0, 1.0), as_of, f"found {_found(kept)} already")
        return certain, certain
    row, window = due

    def until(day: date, note: str) -> Until:
        chance = _chance(kept, stored, clocks, (as_of, day), row.as_of)
        return Until(chance, day, f"{chance.words}{note}")

    if window.earliest is None or window.latest is None:
        within = until(as_of + A_YEAR, " within a year")
        return within, within
    opens = Until(Chance(0.0, 0.0, 0.0), as_of, "the window is open now")
    before = opens if window.earliest <= as_of else until(window.earliest, "")
    if row.due_latest is not None and row.due_latest <= as_of:
        return before, until(as_of + A_YEAR, " if it is left for another year")
    return before, until(window.latest, "")


def _chance(
    kept: Coefficients,
    stored: Stored,
    clocks: tuple[float, float],
    days: tuple[date, date],
    forecast_day: date,
) -> Chance:
    """Over the time between two days, driven as usual; a book's draws are weighted by this part's own survival."""
    years = (days[1] - days[0]).days / DAYS_PER_YEAR
    more = kept.km_between(days, forecast_day), years
    if kept.since.age_unknown:
        now = days[0], kept.odometer_on(days[0], forecast_day)
        return chance_ahead(stored.life, kept.since, now, more)
    return failure_chance(
        stored.life,
        km=clocks[0],
        years=clocks[1],
        more_km=more[0],
        more_years=more[1],
        new_part_fault=kept.new_part_fault,
        survived_counts=stored.source == "book",
    )
