"""From a stored case to the planner's question and back: parts as they were, checks at hand, shares learnt."""

from __future__ import annotations

import zlib
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from api.bridge.forecasts.clocks import Counted
from api.bridge.forecasts.coefficients import Coefficients
from api.bridge.in_force import models
from api.faults import kept_checks, shelf, store
from planner.catalogue import load_catalogue, load_conditions
from planner.faults import (
    SOMETHING_ELSE,
    Book,
    Checked,
    KnownCause,
    PartOnCar,
    Renewed,
    accrued_hazard,
    learn_shares,
    open_finding,
)
from planner.faults.unknown_age import accrued_of_unknown_age, possible_days
from planner.history.dates import years_between
from planner.interval.costs import HOURLY_RATE
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from numpy.typing import NDArray
    from sqlmodel import Session

    from api.bridge.in_force.models import Stored
    from api.storage.tables import FaultFinding as Row
    from api.storage.tables import Forecast
    from planner.catalogue import Complaint
    from planner.catalogue.values import System
    from planner.faults import FaultFinding
    from planner.faults.values import Step
    from planner.life.model import Life

DRAWS = 400
"""Draws of every part's hazard: as many as a stored life has."""

LEAST_YEARS = 1.0 / 365.25
"""A fault that came up on the day on which the car last ran well took a day."""


def part_as_it_was(
    forecast: Forecast, position: str, row: Row, since: Counted, *, suspect: bool
) -> dict[str, Any]:
    """One part in service when a case is opened; of a suspect also what its clocks count from, and its life.

    Args:
        forecast: the part's.
        position: where on the car it sits.
        row: the case.
        since: what its clocks count from, less what repairs had taken off by the day on which the car last ran well.
        suspect: whether the complaint can come from its kind.
    """
    part: dict[str, Any] = {"fitment_id": forecast.fitment_id, "kind": forecast.kind, "position": position}
    if not suspect:
        return part
    kept = Coefficients.from_json(forecast.coefficients)
    odometer = [kept.odometer_on(day, forecast.as_of) for day in (row.last_ran_well, row.noted_on)]
    return {
        **part,
        "model_id": forecast.model_id,
        "since": since.to_json(),
        "odometer_km": odometer,
        "planned": kept.planned if kept.own_costs else None,
        "new_since_well": kept.since.likely > row.last_ran_well and not kept.since.age_unknown,
    }


def learnt_shares(session: Session, row: Row, complaint: Complaint, kinds: Sequence[str]) -> dict[str, Any]:
    """Shares of causes on this car, after the fleet's closed cases of the complaint on cars of its system.

    A kind that an earlier car did not have cannot have been the cause there.
    """
    system = cast("System | None", row.system)
    book = {**complaint.shares(system, kinds), SOMETHING_ELSE: complaint.something_else(system, kinds)}
    cases = [
        KnownCause(taught["causes"], {kind: taught["car_ratios"].get(kind, 0.0) for kind in book})
        for taught in store.causes(session, row.fleet_id, row.complaint, row.system)
        if taught.get("complaint_id") == row.opened_with["own_complaint_id"]
    ]
    learnt = learn_shares(book, cases)
    shares = {kind: share for kind, share in learnt.shares.items() if kind != SOMETHING_ELSE}
    return {"shares": shares, "cases": learnt.cases, "book_share": learnt.book_share}


def question(session: Session, row: Row, *, steps: Sequence[Step] | None = None) -> FaultFinding:
    """The planner's question behind a case.

    Args:
        session: any session; lives not seen by this process yet are read with it.
        row: the case.
        steps: instead of the case's own.

    Raises:
        FaultError: a step does not fit.
    """
    parts = row.opened_with["parts"]
    ids = {part["model_id"] for part in parts if part.get("model_id")}
    lives = models.stored(session, row.fleet_id, ids)
    return open_finding(
        shelf.complaint_of(row),
        [_part(part, row, lives) for part in parts],
        Book({**shelf.checks_by_name(session, row.fleet_id), **kept_checks.made(row)}, load_conditions()),
        system=cast("System | None", row.system),
        years_since_well=max(years_between(row.last_ran_well, row.noted_on), LEAST_YEARS),
        noticed=row.conditions,
        steps=steps_so_far(row) if steps is None else steps,
        shares=row.opened_with["shares"],
        hourly_rate=HOURLY_RATE,
        fault_present=row.fault_present,
    )


def steps_so_far(row: Row, *, with_last_cure: bool = False) -> list[Step]:
    """The case's steps as the planner knows them.

    A renewal that cured is none of them while it is the last: it closes the case. With a later step, or where
    asked for, the complaint came back, and it counts as one that did not cure.
    """
    last = len(row.steps) - 1
    found: list[Step] = []
    for number, step in enumerate(row.steps):
        if "check" in step:
            found.append(_checked(step))
        elif not step["cured"] or number < last or with_last_cure:
            found.append(Renewed(tuple(step["renewed"])))
    return found


def cure_of(row: Row) -> dict[str, Any] | None:
    """The last step, where it is a renewal after which the complaint was gone."""
    last = row.steps[-1] if row.steps else {}
    return last if last.get("cured") else None


def name_of(part: dict[str, Any]) -> str:
    """What a part that was on the car at the opening is called in its case."""
    name = load_catalogue()[part["kind"]].name_gb
    return f"{name} ({part['position']})" if part["position"] else name


def kind_of(row: Row) -> dict[str, str]:
    """Part kind of each part that was on the car, by fitment."""
    return {part["fitment_id"]: part["kind"] for part in row.opened_with["parts"]}


def _checked(step: dict[str, Any]) -> Checked:
    shown = step["shows_bad"]
    pairs = shown if isinstance(shown, bool) else tuple((part, bad) for part, bad in shown)
    return Checked(step["check"], pairs, step["fault_present"])


def _part(part: dict[str, Any], row: Row, lives: dict[str, Stored]) -> PartOnCar:
    kind, name = load_catalogue()[part["kind"]], name_of(part)
    if "since" not in part:
        return PartOnCar(part["fitment_id"], kind, 0.0, name)
    stored = lives.get(part["model_id"] or "") or models.book_of(kind.id)
    labour = sum(kind.labour_hours) / 2.0 * HOURLY_RATE
    return PartOnCar(
        part=part["fitment_id"],
        kind=kind,
        hazard=_hazard(part, stored, row.vehicle_id, (row.last_ran_well, row.noted_on)),
        name=name,
        fitted_since_well=part["new_since_well"],
        money=None if part["planned"] is None else max(part["planned"] - labour, 0.0),
    )


def _hazard(
    part: dict[str, Any], stored: Stored, vehicle_id: str, days: tuple[date, date]
) -> NDArray[np.float64]:
    """Hazard accrued since the car last ran well, on its own car's life and as its wear counts, as in forecasts.

    A part of unknown age is averaged over its possible ages. What was measured on a part is left aside: it says how far its
    limit is, and a part far from its limit can still show the complaint.
    """
    since, (km_then, km_now) = Counted.from_json(part["since"]).less_worn, part["odometer_km"]
    life = stored.on_car(vehicle_id)
    if since.age_unknown:
        return _one_a_draw(_of_unknown_age(life, since, days, part))
    then, now = since.clocks_on(days[0], km_then), since.clocks_on(days[1], km_now)
    clocks = {"distance": ("km", (then[0], now[0])), "age": ("years", (then[1], now[1]))}
    accrued = accrued_hazard(
        life, **dict(clocks[name] for name in life.clocks), in_fit=stored.source == "fitted"
    )
    return _one_a_draw(accrued)


def _of_unknown_age(
    life: Life, since: Counted, days: tuple[date, date], part: dict[str, Any]
) -> NDArray[np.float64]:
    share, odometer = possible_days()[0], part["odometer_km"]
    first, last = since.earliest.toordinal(), since.latest.toordinal()
    years = np.maximum(days[0].toordinal() - (first + share * (last - first)), 0.0) / DAYS_PER_YEAR
    km = np.maximum(odometer[0] - (since.km[0] + share * (since.km[2] - since.km[0])), 0.0)
    clocks = {
        "distance": ("km", (km, km + max(odometer[1] - odometer[0], 0.0))),
        "age": ("years", (years, years + years_between(*days))),
    }
    seed = zlib.crc32(part["fitment_id"].encode())
    return accrued_of_unknown_age(life, **dict(clocks[name] for name in life.clocks), seed=seed)


def _one_a_draw(hazards: NDArray[np.float64]) -> NDArray[np.float64]:
    return hazards[np.arange(DRAWS) * len(hazards) // DRAWS]
