"""A car's forecasts as parts of a plan, for grouping into visits: stored lives and tables, nothing is fitted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from api.bridge import store
from api.bridge.forecasts.decisions import snooze_of
from api.bridge.in_force import tables
from api.bridge.in_force.terms import terms_of
from planner.catalogue import load_catalogue
from planner.interval import Cap, Costs, Interval
from planner.interval.costs import HOURLY_RATE
from planner.risk import set_of
from planner.schedule import InService, PlannedPart, rate_on_own_path
from planner.usage import Usage

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.forecasts.coefficients import Coefficients
    from api.bridge.forecasts.outlook import Outlook
    from api.storage.tables import KindSettings, PutOff
    from planner.interval import IntervalTable
    from planner.schedule import Snooze

_A_DAY = 1.0 / 365.25
_A_KM = 1.0


def planned_parts(
    session: Session, fleet_id: str, parts: Sequence[Outlook], positions: Mapping[str, str]
) -> list[PlannedPart]:
    """One car's parts in service as its plan takes them; a part found worn or failed is due, decisions or not."""
    decisions = {row.fitment_id: row for row in store.put_offs(session, fleet_id, list(positions))}
    settings = store.settings(session, fleet_id, {one.row.kind for one in parts})
    return [
        _planned(
            session, fleet_id, one, settings.get(one.row.kind), decisions.get(one.row.fitment_id),
            positions[one.row.fitment_id],
        )
        for one in parts
    ]  # fmt: skip


def driven(parts: Sequence[Outlook], as_of: date) -> Usage:
    """How the car is driven, from the forecasts of its parts."""
    kept = parts[0].kept
    low, high = kept.km_per_year_range
    basis = "as its forecasts take it"
    ahead = kept.ahead.from_day(as_of)
    return Usage(kept.km_per_year, low, high, as_of, parts[0].odometer_km, basis, ahead=ahead)


def own_interval(session: Session, fleet_id: str, one: Outlook) -> Interval:
    """The interval of a part at the yearly distance of its own path, from the stored table.

    Where its car is to be sold or has a life of its own, or the part was measured, the forecast keeps the interval: working it
    out again is no matter of a read.
    """
    return own_interval_of(one, table_behind(session, fleet_id, one))


def table_behind(session: Session, fleet_id: str, one: Outlook) -> IntervalTable | None:
    """The stored table that a forecast rests on, where it still is stored."""
    model_id = one.row.model_id
    return None if model_id is None else tables.stored(session, fleet_id, model_id, one.kept.table)


def own_interval_of(one: Outlook, table: IntervalTable | None) -> Interval:
    """The same as `own_interval` with the table at hand."""
    if one.kept.sell_on is not None or one.kept.own is not None or table is None:
        return _kept_interval(one)
    rate = float(rate_on_own_path(table, km=one.km, years=one.years, km_per_year=one.kept.km_per_year))
    if one.kept.ahead and one.kept.interval_km and one.kept.interval_years:
        rate = one.kept.interval_km / one.kept.interval_years
    return table.at(rate)


def costs_of(one: Outlook) -> Costs:
    """The costs that the forecast was made with."""
    return Costs(one.kept.planned, one.kept.failure, one.kept.new_part_fault)


def _planned(
    session: Session,
    fleet_id: str,
    one: Outlook,
    settings: KindSettings | None,
    decision: PutOff | None,
    position: str,
) -> PlannedPart:
    kind = load_catalogue()[one.row.kind]
    worn, kept = one.kept.since.less_worn, one.kept
    bad = worn.found_bad is not None
    group = load_catalogue().access_groups[kind.access_group]
    cap = Cap(years=max(one.worn[1], _A_DAY)) if bad else _cap_of(kept)
    new = None if kept.own is None else kept.own["new"]
    snooze: Snooze | None = None if bad or decision is None else snooze_of(decision)
    return PlannedPart(
        name=one.row.fitment_id,
        service=InService(worn, worn.age_unknown, worn.km, one.stored.life.clocks),
        km=one.worn[0],
        years=one.worn[1],
        life=one.stored.life,
        costs=costs_of(one),
        interval=own_interval(session, fleet_id, one),
        cap=cap,
        max_risk=terms_of(kind, settings).max_risk,
        safety=kind.safety or bad,
        access_group=kind.access_group,
        access_cost=HOURLY_RATE * group.setup_hours,
        hours=sum(kind.labour_hours) / 2.0,
        money=kept.planned,
        together=set_of(kind.id, position),
        snooze=snooze,
        survived_counts=one.stored.source == "book",
        dates=None if bad else one.dates,
        successor=None if new is None else (_years(new[0]), _years(new[1]), _years(new[2])),
    )


def _cap_of(kept: Coefficients) -> Cap:
    """The hard cap on the clocks of `Outlook.worn`: what repairs have taken off moves no limit."""
    km, years = kept.since.set_back
    return Cap(
        None if kept.cap_km is None else max(kept.cap_km - km, _A_KM),
        None if kept.cap_years is None else max(kept.cap_years - years, _A_DAY),
    )


def _years(kept: float | None) -> float:
    return math.inf if kept is None else kept


def _kept_interval(one: Outlook) -> Interval:
    """What the forecast itself keeps of its interval, for a table that is no longer stored."""
    kept = one.kept
    years = _years(kept.interval_years)
    within = (
        (years, years) if kept.own is None else (_years(kept.own["within"][0]), _years(kept.own["within"][1]))
    )
    return Interval(
        km=kept.interval_km,
        years=years,
        cost_per_year=kept.cost_per_year,
        cost_run_to_failure=kept.cost_run_to_failure,
        run_to_failure=math.isinf(years),
        bound_by=kept.bound_by,  # type: ignore[arg-type]  # written from an Interval's own
        within_5_percent=within,
        flips_at_failure_cost=None if kept.own is None else kept.own["flips"],
        reason=one.row.reason,
        km_per_year=kept.km_per_year,
    )
