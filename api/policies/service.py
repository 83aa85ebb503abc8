"""Ways of living with a part, from its stored life, the terms in force and the car's yearly distance."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

from api.bridge import store as bridge_store
from api.bridge.outlook import Outlook, outlooks
from api.bridge.plans import costs_of, own_interval
from api.bridge.terms import terms_of
from api.bridge.words import distance, significant
from api.policies.schemas import PoliciesOut
from api.problems import NotFound
from api.schedules import store
from api.schedules.answers import cautions_of
from planner.catalogue import load_catalogue
from planner.interval import Cap, Costs, Delay, Looking, Policy, Spare, compare_policies
from planner.interval.costs import RECOVERY, SPOILT_TRIP
from planner.risk import ease_at_roadside

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.terms import Terms
    from api.security import Principal
    from api.storage.tables import Vehicle
    from planner.catalogue import PartKind
    from planner.units import DistanceUnit

HOLDING = 0.1
"""What a spare aboard costs a year, of the cost of a planned renewal: capital, room, shelf life (judgement)."""

THUMB = 0.6
"""The rule of thumb renews at this share of the age at which half of the parts have failed by the book."""

THINNED = 4
"""Where checking is compared, every fourth draw serves: it is dear to work out, and the draws are in order."""

NOTES = {
    "spare": "With a spare aboard a failure costs the less, the easier the part is fitted at the roadside (judgement).",
    "inspect": "Checking counts on wear showing before the failure; it postpones no limit.",
}


@dataclass(frozen=True)
class Check:
    """What the keeper says of checking: its cost, for what share of a life wear shows, and how well it is seen."""

    cost: float
    delay_share: float
    sensitivity: float


def policies(
    session: Session,
    who: Principal,
    vehicle: Vehicle,
    fitment_id: str | None,
    as_of: date,
    check: Check | None,
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
    settings = bridge_store.settings(session, vehicle.fleet_id, {one.row.kind for one in parts})
    terms = {
        one.row.kind: terms_of(load_catalogue()[one.row.kind], settings.get(one.row.kind)) for one in parts
    }
    found = [(one, _compared(one, terms[one.row.kind], check)) for one in parts]
    flips = {
        one.row.fitment_id: own_interval(session, vehicle.fleet_id, one).flips_at_failure_cost
        for one in parts
    }
    return PoliciesOut.model_validate(
        {
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "currency": who.currency,
            "yearly_distance": _far(parts[0].kept.km_per_year, unit) if parts else None,
            "items": [
                _item(one, ways, positions[one.row.fitment_id], flips[one.row.fitment_id], unit)
                for one, ways in found
            ],
            "notes": _notes(found),
        }
    )


def _compared(one: Outlook, terms: Terms, check: Check | None) -> tuple[Policy, ...]:
    kind, costs, rate = load_catalogue()[one.row.kind], costs_of(one), one.kept.km_per_year
    life = (
        one.stored.life if check is None else replace(one.stored.life, draws=one.stored.life.draws[::THINNED])
    )
    return compare_policies(
        life,
        costs,
        rate,
        spare=_spare(kind, costs),
        looking=_looking(one, check),
        max_risk=terms.max_risk,
        cap=Cap(one.kept.cap_km, one.kept.cap_years),
        rule_of_thumb_years=_thumb(kind, rate),
    )


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


def _looking(one: Outlook, check: Check | None) -> Looking | None:
    if check is None:
        return None
    interval = one.kept.interval_years or one.years or 1.0
    return Looking(check.cost, Delay(check.delay_share * interval), check.delay_share, check.sensitivity)


def _thumb(kind: PartKind, km_per_year: float) -> float | None:
    """The handbook's way: a share of the book's middle life, whichever clock comes first."""
    ages = [] if kind.age is None else [THUMB * kind.age.p50]
    if kind.distance is not None and km_per_year > 0:
        ages.append(THUMB * kind.distance.p50 / km_per_year)
    return min(ages, default=None)


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
    return [NOTES[name] for name, there in wanted.items() if there]


def _far(km: float, unit: DistanceUnit) -> dict[str, Any]:
    found = distance(km, unit) or {}
    return {**found, "value": significant(found["value"])}
