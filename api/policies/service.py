"""Ways of living with a part, from its stored life, the terms in force and the car's yearly distance."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, cast

from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.forecasts.plans import costs_of, own_interval_of, table_behind
from api.bridge.in_force.terms import terms_of
from api.bridge.words import distance, significant
from api.policies.schemas import PoliciesOut
from api.problems import NotFound
from api.schedules import store
from api.schedules.answers import cautions_of
from planner.catalogue import load_catalogue
from planner.interval import Cap, Costs, Policy, Spare
from planner.interval.costs import RECOVERY, SPOILT_TRIP
from planner.interval.held import held_to
from planner.risk import ease_at_roadside

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Vehicle
    from planner.catalogue import PartKind
    from planner.interval import Interval, IntervalTable
    from planner.units import DistanceUnit

HOLDING = 0.1
"""What a spare aboard costs a year, of the cost of a planned renewal: capital, room, shelf life (judgement)."""

OWN = (
    "For a measured part, or a car with a life of its own, checking and the rule of thumb are not worked out: theirs would be the "
    "kind's figures."
)

NOTES = {
    "spare": "With a spare aboard a failure costs the less, the easier the part is fitted at the roadside (judgement).",
    "inspect": "Checking counts on wear showing before the failure; it postpones no limit.",
}


def policies(
    session: Session,
    who: Principal,
    vehicle: Vehicle,
    fitment_id: str | None,
    as_of: date,
) -> PoliciesOut:
    """The ways that apply to a car's parts in service, or to one of them.

    Raises:
        NotFound: no such part in service on this car.
    """
    rows = store.all_of_vehicle(session, vehicle.fleet_id, vehicle.id)
    if fitment_id is not None:
        rows = [row for row in rows if row.fitment_id == fitment_id]
        if not rows:
            raise NotFound("no such part in service on this vehicle")
    parts = outlooks(session, rows, as_of)
    unit = cast("DistanceUnit", vehicle.distance_unit)
    positions = store.positions(session, vehicle.fleet_id, [one.row.fitment_id for one in parts])
    tables = [table_behind(session, vehicle.fleet_id, one) for one in parts]
    intervals = [own_interval_of(one, table) for one, table in zip(parts, tables, strict=True)]
    found = [
        (one, _ways(one, table, interval))
        for one, table, interval in zip(parts, tables, intervals, strict=True)
    ]
    return PoliciesOut.model_validate(
        {
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "currency": who.currency,
            "yearly_distance": _far(parts[0].kept.km_per_year, unit) if parts else None,
            "items": [
                _item(one, ways, positions[one.row.fitment_id], interval.flips_at_failure_cost, unit)
                for (one, ways), interval in zip(found, intervals, strict=True)
            ],
            "notes": _notes(found),
        }
    )


def _ways(one: Outlook, table: IntervalTable | None, renewal: Interval) -> tuple[Policy, ...]:
    """The ways by arithmetic on what is stored: straight paths from new at the car's yearly distance, capped as the part is.

    Without a stored table, and for a part with an interval of its own, there is only what the forecast itself keeps: the table's
    other ways are those of the kind.

    Args:
        one: the part.
        table: that its forecast rests on.
        renewal: its own interval.
    """
    kind, costs, rate = load_catalogue()[one.row.kind], costs_of(one), one.kept.km_per_year
    cap = Cap(one.kept.cap_km, one.kept.cap_years)
    limit = cap.years_on_path(rate)
    if one.kept.own is not None:
        table, limit = None, min(limit, one.kept.own_risk_limit)
    if table is not None:
        renewal = held_to(table.at(rate), cap, planned=table.planned)
        limit = min(limit, table.limit_at(rate)[0])
    free, run = math.isinf(limit), renewal.cost_run_to_failure
    found = [
        Policy("renew", renewal.years, renewal.cost_per_year),
        Policy("run without", math.inf, run, free),
    ]
    spare = _spare(kind, costs)
    if spare is not None:
        cost = run * spare.failure_cost / costs.failure + spare.cost_per_year
        found.append(Policy("run with a spare aboard", math.inf, cost, free))
    if table is not None and table.ways is not None:
        ways = table.ways.at(rate)
        if not math.isnan(ways["check_cost"]):
            found.append(Policy("inspect", ways["check_years"], ways["check_cost"], free))
        thumb = _thumb(kind, rate)
        if thumb is not None and not math.isnan(ways["thumb_cost"]):
            found.append(Policy("rule of thumb", thumb, ways["thumb_cost"], thumb <= limit))
    return tuple(sorted(found, key=lambda policy: (not policy.allowed, policy.cost_per_year)))


def _item(
    one: Outlook, found: tuple[Policy, ...], position: str, flips: float | None, unit: DistanceUnit
) -> dict[str, Any]:
    kind, rate = load_catalogue()[one.row.kind], one.kept.km_per_year
    return {
        "fitment_id": one.row.fitment_id,
        "kind": kind.id,
        "part": kind.name_gb,
        "position": position or None,
        "planned": one.kept.planned,
        "failure": one.kept.failure,
        "policies": [_shown(policy, rate, unit) for policy in found],
        "flips_at_failure_cost": None if flips is None else significant(flips),
        "safety": kind.safety,
        "cautions": cautions_of(kind),
    }


def _spare(kind: PartKind, costs: Costs) -> Spare | None:
    """A spare takes the recovery and the spoilt trip off a failure, as far as it can be fitted at the roadside."""
    ease = ease_at_roadside(kind)
    if ease == 0:
        return None
    less = ease * kind.stops_car * (RECOVERY + SPOILT_TRIP)
    return Spare(max(costs.planned, costs.failure - less), HOLDING * costs.planned)


def _thumb(kind: PartKind, km_per_year: float) -> float | None:
    years = terms_of(kind, None).thumb.years_at(km_per_year)
    return years if math.isfinite(years) else None


def _shown(policy: Policy, km_per_year: float, unit: DistanceUnit) -> dict[str, Any]:
    endless = math.isinf(policy.years)
    return {
        "name": policy.name,
        "every": None if endless else significant(policy.years),
        "distance": None if endless else _far(policy.years * km_per_year, unit),
        "cost_per_year": significant(policy.cost_per_year),
        "allowed": policy.allowed,
    }


def _notes(found: Sequence[tuple[Outlook, tuple[Policy, ...]]]) -> list[str]:
    names = {policy.name for _, ways in found for policy in ways}
    wanted = {"spare": "run with a spare aboard" in names, "inspect": "inspect" in names}
    own = [OWN] if any(one.kept.own is not None for one, _ in found) else []
    return [NOTES[name] for name, there in wanted.items() if there] + own


def _far(km: float, unit: DistanceUnit) -> dict[str, Any]:
    found = distance(km, unit) or {}
    return {**found, "value": significant(found["value"])}
