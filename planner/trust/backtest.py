"""Predicts anew at past days with what was then known, and holds each prediction against what came."""

from __future__ import annotations

import calendar
import re
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from planner.errors import FitError, InputError, RecordError, TooFewFailures
from planner.history.conversion import spells_from
from planner.history.findings import refuse_failure_undone
from planner.history.succession import with_successors
from planner.history.timeline import timeline
from planner.life.checks import number as checked_number
from planner.life.fit import book_life, fit_life
from planner.life.joined_rows import undated_rows_of
from planner.progress import silent
from planner.trust.collecting import Collected, Origin, collect
from planner.trust.known import known_on
from planner.trust.summing_up import summed_up

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from planner.history.conversion import SpellsResult
    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock
    from planner.life.model import Life
    from planner.life.prior import LifePrior
    from planner.progress import Progress
    from planner.trust.values import Backtest

Every = Literal["month", "quarter", "year"]
MONTHS: dict[Every, int] = {"month": 1, "quarter": 3, "year": 12}

MOST_ORIGINS = 120
"""Past days looked back to, the latest ones: ten years of months."""


def backtest(
    histories: Iterable[PartHistory],
    clocks: Sequence[Clock],
    today: date,
    *,
    prior: LifePrior | None = None,
    every: Every = "quarter",
    horizon_years: float = 1.0,
    first: date | None = None,
    fit: Callable[[SpellsResult, date], Life] | None = None,
    seed: int = 0,
    progress: Progress = silent,
) -> Backtest:
    """Hold predictions for one part kind against what came.

    At each past month's, quarter's or year's end the life is fitted to what was then known and the chance of every part in
    service to fail within the horizon is stated, with the car's yearly distance as it could then be told. Parts renewed while
    good, sold or lost sight of count for as long as they were followed; what they would have done is told by those like them
    that were followed longer. No fit of today is used, except by histories' tracks: which turn of the dial an early reading
    stood on may have been settled by a later one.

    What is judged is the kind's own life, fitted plainly: not what single cars do to parts, bad new parts, a part's own measurements
    or what repairs leave, of which forecasts know more.

    Args:
        histories: parts of one kind, of any number of cars.
        clocks: "distance", "age" or both.
        today: no record may be later.
        prior: of the book; None: maximum likelihood, and days at which that fails are left out.
        every: how far the past days are apart.
        horizon_years: how far each prediction looks, 1/12 to 10.
        first: no past day before it; None: from when the first part came.
        fit: another way from what was known on a day to a life; its `FitError` leaves the day out.
        seed: of draws and of the cars drawn anew.
        progress: told after each past day.

    Raises:
        InputError: a horizon or a step out of its range, or a day that is no date.
        TooFewFailures: no past day gave a statement whose outcome is known.
    """
    _check(every, horizon_years, today, first)
    collected = Collected()
    parts = [
        history
        for history in with_successors(histories)
        if not _contradicts_itself(history, today, collected)
    ]
    days = origin_days(parts, today, every, horizon_years, first)
    for number, on in enumerate(days):
        known = [found for found in (known_on(history, on) for history in parts) if found is not None]
        spells = spells_from(
            known, clocks, on, contradictions="leave out", undated="leave out" if prior is None else "keep"
        )
        try:
            life = (fit or _fit(prior, seed))(spells, on)
        except FitError as error:
            collected.leave_out(f"no life could be fitted on a past day ({type(error).__name__})")
        else:
            origin = Origin(on, _end(on, horizon_years), today, tuple(clocks), life, prior)
            collect(collected, origin, parts, spells)
        progress(number + 1, len(days), "past days")
    if not collected.lines:
        raise TooFewFailures(_nothing(days, collected, horizon_years))
    return summed_up(collected, horizon_years, MONTHS[every] / 12.0, seed)


def origin_days(
    histories: Sequence[PartHistory], today: date, every: Every, horizon_years: float, first: date | None
) -> list[date]:
    """Ends of past months, quarters or years from when the first part came, a whole horizon before today."""
    came = [day for day in map(_came, histories) if day is not None]
    start = max([min(came, default=today), *([] if first is None else [first])])
    step = MONTHS[every]
    found: list[date] = []
    year, month = start.year, -(-start.month // step) * step
    while True:
        day = date(year, month, calendar.monthrange(year, month)[1])
        if _end(day, horizon_years) > today:
            return found[-MOST_ORIGINS:]
        if day >= start:
            found.append(day)
        year, month = (year, month + step) if month + step <= 12 else (year + 1, month + step - 12)


def _came(history: PartHistory) -> date | None:
    fitted = history.fitment.fitted_on
    days = [history.vehicle.joined_on, None if fitted is None else fitted.likely]
    return max((day for day in days if day is not None), default=None)


def _end(on: date, horizon_years: float) -> date:
    return on + timedelta(days=round(365.25 * horizon_years))


def _fit(prior: LifePrior | None, seed: int) -> Callable[[SpellsResult, date], Life]:
    def fitted(known: SpellsResult, _on: date) -> Life:
        if known.spells is not None:
            undated = () if known.undated is None else (undated_rows_of(known.undated.in_order()),)
            return fit_life(known.spells.in_order(), prior, seed=seed, joined=undated)
        if prior is None:
            raise TooFewFailures("nothing was known yet")
        return book_life(prior, seed=seed)

    return fitted


def _contradicts_itself(history: PartHistory, today: date, collected: Collected) -> bool:
    """Whether no past day can be asked about a part; then it is listed."""
    try:
        refuse_failure_undone(timeline(history, today))
    except RecordError as error:
        place = re.sub(r"\[\d+\]", "", error.field)
        collected.leave_out(f"a part's records contradict each other, on all past days ({place})")
        return True
    return False


def _check(every: str, horizon_years: float, today: date, first: date | None) -> None:
    for field, day in (("today", today), ("first", today if first is None else first)):
        if not isinstance(day, date) or isinstance(day, datetime):
            raise InputError(field, "a date", day)
    if every not in MONTHS:
        raise InputError("every", f"one of {', '.join(MONTHS)}", every)
    if not 1.0 / 12.0 <= checked_number("horizon_years", horizon_years, "a twelfth to 10 years") <= 10.0:
        raise InputError("horizon_years", "a twelfth to 10 years", horizon_years)


def _nothing(days: Sequence[date], collected: Collected, horizon_years: float) -> str:
    if not days:
        whole = "a year" if horizon_years == 1.0 else f"{horizon_years:g} years"
        return f"the records do not reach back {whole}, a whole horizon: nothing to look back on"
    why = "; ".join(f"{one.reason}: {one.count}" for one in collected.left_out())
    return f"no part in service on {len(days)} past days gave a statement to check ({why or 'no part was there'})"
