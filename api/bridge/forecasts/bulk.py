"""A whole fleet's forecasts of one kind brought to a new life or new terms by array arithmetic, rows in and rows out.

Histories are not read: from when a part's clocks count, and how its car is driven, stand in the forecast itself, and
every change of a history refreshes them. `keep` gives one part the same days.
"""

from __future__ import annotations

import gc
from contextlib import contextmanager
from datetime import date
from typing import TYPE_CHECKING, Any, cast

import numpy as np
from pydantic_core import from_json

from api.bridge.behind import store
from api.bridge.forecasts.coefficients import Coefficients
from api.bridge.forecasts.measured import OnPath
from api.bridge.forecasts.one_part import OwnCar
from api.bridge.in_force.circumstances import in_each
from api.bridge.in_force.ready import make_ready
from api.bridge.keep import forecast
from api.bridge.records import km_of
from api.bridge.words import interval_words
from api.notices import dates
from planner.interval import Cap, shortest
from planner.interval.advice import BOUNDS
from planner.interval.held import held_columns, held_to
from planner.schedule import DECIDERS, Driven, Fitted, due_days, rate_on_own_path
from planner.schedule.fleet import rules_of
from planner.units import DAYS_PER_YEAR
from planner.usage import Usage

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from api.bridge.behind.store import Behind
    from api.bridge.in_force.models import InForce
    from api.jobs import Sessions
    from api.notices.dates import Because
    from api.storage.tables import Fitment
    from planner.progress import Progress
    from planner.schedule import DueDays
    from planner.units import DistanceUnit

    Array = NDArray[np.float64]

Said = dict[tuple[float, str], str]
"""Reasons in words by yearly distance (to three figures) and the keeper's unit."""

ROWS_IN_ONE_TRANSACTION = 4_000
"""So that no transaction holds others up for more than a part of a second."""

_LAST_DAY = date.max.toordinal()


def bring_forward(
    sessions: Sessions, fleet_id: str, kind: str, progress: Progress, because: Because = "model"
) -> int:
    """Bring every forecast of a kind to the life and the terms in force, some rows a transaction.

    Cars whose dates change thereby are told to whoever wants to know, and why.

    Returns:
        How many cars they are of.
    """
    with sessions.reading() as reading:
        others = store.circumstances_of(reading, fleet_id, kind)
    make_ready(sessions.database, fleet_id, [kind], [(kind, one) for one in others])
    with sessions() as session:
        forces = in_each(session, fleet_id, kind, others)
        limits = store.own_limits(session, fleet_id, kind)
    cars: set[str] = set()
    done = 0
    for force in forces:
        for rows in _brought(sessions, fleet_id, force, limits, because):
            cars.update(row.vehicle_id for row in rows)
            done += len(rows)
            progress(done, 0, "forecasts brought forward")
    return len(cars)


def _brought(
    sessions: Sessions, fleet_id: str, force: InForce, limits: Mapping[str, Fitment], because: Because
) -> Iterator[Sequence[Behind]]:
    """The forecasts of parts in the same circumstances, each lot once it has been brought forward."""
    said: Said = {}
    with sessions.reading() as reading:
        behind = store.forecasts_behind(
            reading,
            fleet_id,
            force.kind.id,
            model_id=force.model_id,
            table=force.terms.fingerprint,
            apart=[] if force.differ is None else list(force.differ.multipliers),
            at_once=ROWS_IN_ONE_TRANSACTION,
            circumstances=force.circumstances,
        )
        while True:
            with _uncollected():
                rows = next(behind, None)
                if rows is None:
                    return
                with sessions() as session:
                    made = forecasts(rows, force, limits, said)
                    store.write_forecasts(session, made)
                    dates.tell_ids(session, fleet_id, _moved(rows, made), because)
            yield rows


@contextmanager
def _uncollected() -> Iterator[None]:
    """No search for dead cycles meanwhile: it would go through thousands of new dictionaries again and again."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


def forecasts(
    rows: Sequence[Behind], force: InForce, limits: Mapping[str, Fitment], said: Said
) -> list[dict[str, Any]]:
    """The columns of forecasts under what is in force, in the order of the rows.

    Args:
        rows: what is behind.
        force: what is in force.
        limits: fitments with a limit of their own, by id.
        said: reasons worded before under the same; more are added.
    """
    if not rows:
        return []
    kept = [from_json(row.coefficients) for row in rows]
    caps = [_cap(limits.get(row.fitment_id), force.terms.cap) for row in rows]
    parts, use = _fitted(kept, force), _driven(kept, rows)
    rates = _own_rates(parts, use, force)
    cap = _numbers(caps)
    free = force.table.columns(rates)
    found = held_columns(free, rates, cap_km=cap[0], cap_years=cap[1], planned=force.table.planned)
    days = due_days(parts, use, rules_of(found, *cap))
    columns = {
        name: np.asarray(getattr(found, name)).tolist()
        for name in ("km", "years", "cost_per_year", "cost_run_to_failure", "bound_by")
    }
    reasons = _reasons(rates, [one["unit"] for one in kept], force, said)
    for i in np.flatnonzero(found.years < free.years):
        interval = held_to(force.table.at(float(rates[i])), caps[i], planned=force.table.planned)
        reasons[i] = force.said + interval_words(interval, force.life.clocks, kept[i]["unit"])
    plain = _plain(days)
    return [
        _singly(rows[i], kept[i], caps[i], force)
        if kept[i].get("ahead") or kept[i].get("sell_on")
        else _row(rows[i], kept[i], caps[i], {name: column[i] for name, column in {**columns, **plain}.items()}, reasons[i], force)
        for i in range(len(rows))
    ]  # fmt: skip


def _moved(rows: Sequence[Behind], made: Sequence[dict[str, Any]]) -> set[str]:
    """Cars with a part whose dates are others now."""
    names = ("due_earliest", "due_likely", "due_latest", "decides")
    return {
        row.vehicle_id
        for row, new in zip(rows, made, strict=True)
        if any(getattr(row, name) != new[name] for name in names)
    }


def _singly(row: Behind, content: dict[str, Any], cap: Cap, force: InForce) -> dict[str, Any]:
    """A part of a car with a tour or lay-up ahead, or one to be sold: few, so each by itself, as `keep` does."""
    kept = Coefficients.from_json(content)
    low, high = kept.km_per_year_range
    usage = Usage(kept.km_per_year, low, high, row.as_of, kept.odometer_km, "", ahead=kept.ahead)
    unit = cast("DistanceUnit", kept.unit)
    values = forecast(
        kept.since, usage, force, cap, unit, OwnCar(kept.sell_on, OnPath.from_json(kept.measured))
    )
    return values | {"row_id": row.id, "row_version": row.version, "model_id": force.model_id}


def _row(
    row: Behind, kept: dict[str, Any], cap: Cap, own: dict[str, Any], reason: str, force: InForce
) -> dict[str, Any]:
    limit, bad = _day(own["limit"]), kept["since"]["found_bad"]
    window = {name: _day(own[name]) for name in ("earliest", "likely", "latest")}
    if bad is not None:
        window = dict.fromkeys(window, date.fromisoformat(bad))
    costs = force.terms.costs
    return {
        "row_id": row.id,
        "row_version": row.version,
        "model_id": force.model_id,
        "as_of": row.as_of,
        "due_earliest": window["earliest"],
        "due_likely": window["likely"],
        "due_latest": window["latest"],
        "decides": DECIDERS[own["decides"]] if bad is None else "inspection",
        "run_to_failure": window["likely"] is None,
        "reason": reason,
        "coefficients": kept
        | {
            "limit": None if limit is None else limit.isoformat(),
            "interval_km": _finite(own["km"]),
            "interval_years": _finite(own["years"]),
            "bound_by": BOUNDS[own["bound_by"]],
            "cost_per_year": own["cost_per_year"],
            "cost_run_to_failure": own["cost_run_to_failure"],
            "planned": costs.planned,
            "failure": costs.failure,
            "own_costs": force.terms.own_costs,
            "new_part_fault": costs.new_part_fault,
            "cap_km": cap.km,
            "cap_years": cap.years,
            "table": force.terms.fingerprint,
            "own": None,
        },
    }


def _fitted(kept: Sequence[dict[str, Any]], force: InForce) -> Fitted:
    since = [one["since"] for one in kept]
    days = [[date.fromisoformat(day).toordinal() for day in one["days"]] for one in since]
    early, likely, late = np.array(days, dtype=float).T
    low, middle, high = np.array([one["km"] for one in since], dtype=float).T
    unknown = np.array([one["age_unknown"] for one in since], dtype=bool)
    clocks = force.life.clocks
    return Fitted(early, likely, late, low, middle, high, unknown, "distance" in clocks, "age" in clocks)


def _driven(kept: Sequence[dict[str, Any]], rows: Sequence[Behind]) -> Driven:
    rate = np.array([one["km_per_year"] for one in kept], dtype=float)
    low, high = np.array([one["km_per_year_range"] for one in kept], dtype=float).T
    as_of = np.array([row.as_of.toordinal() for row in rows], dtype=float)
    km = np.array([one["odometer_km"] for one in kept], dtype=float)
    return Driven(as_of, km, rate, np.minimum(low, rate), np.maximum(high, rate))


def _own_rates(parts: Fitted, use: Driven, force: InForce) -> Array:
    """Each part's yearly distance on its own path; one of unknown age at its oldest."""
    fitted = np.where(parts.age_unknown, parts.early, parts.likely)
    ran = np.maximum(use.km - np.where(parts.age_unknown, parts.km_low, parts.km_likely), 0.0)
    aged = np.maximum(use.as_of - fitted, 0.0) / DAYS_PER_YEAR
    return np.asarray(rate_on_own_path(force.table, km=ran, years=aged, km_per_year=use.km_per_year))


def _reasons(rates: Array, units: Sequence[str], force: InForce, said: Said) -> list[str]:
    """The reasons in words, each said once for all parts of nearly the same use: to three figures of yearly distance."""
    step = 10.0 ** (np.floor(np.log10(np.maximum(rates, 1.0))) - 2.0)
    keys = list(zip((np.round(rates / step) * step).tolist(), units, strict=True))
    new = list(set(keys) - said.keys())
    for (near, unit), interval in zip(new, force.table.at_each([near for near, _ in new]), strict=True):
        said[near, unit] = force.said + interval_words(
            interval, force.life.clocks, cast("DistanceUnit", unit)
        )
    return [said[key] for key in keys]


def _cap(fitment: Fitment | None, cap: Cap) -> Cap:
    if fitment is None:
        return cap
    return shortest(cap, Cap(km=km_of(fitment.cap_value, fitment.cap_unit), years=fitment.cap_years))


def _numbers(caps: Sequence[Cap]) -> tuple[Array, Array]:
    km = np.array([np.inf if cap.km is None else cap.km for cap in caps])
    years = np.array([np.inf if cap.years is None else cap.years for cap in caps])
    return km, years


def _plain(days: DueDays) -> dict[str, list[float]]:
    return {
        name: np.asarray(getattr(days, name)).tolist()
        for name in ("earliest", "likely", "latest", "limit", "decides")
    }


def _day(ordinal: float) -> date | None:
    return None if ordinal == np.inf else date.fromordinal(min(max(int(ordinal), 1), _LAST_DAY))


def _finite(value: float) -> float | None:
    return value if abs(value) < np.inf else None
