"""Visits, from a car's forecasts, its keeper's decisions and the rules of the workshop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.forecasts.plans import driven, planned_parts
from api.schedules import no_driving, store
from api.schedules.answers import cautions_of, minded
from api.visits.schemas import VisitsOut
from planner.catalogue import load_catalogue
from planner.schedule import CarPlan, PlannedPart, Season, Workshop, group_visits, plan_car

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Vehicle
    from planner.schedule.plan import DatedVisit


@dataclass(frozen=True)
class Rules:
    """When visits may be and what they may hold."""

    workshop: Workshop
    season: Season | None
    closed: Mapping[date, bool]


@dataclass(frozen=True)
class Asked:
    """What was asked: seen from a day, so many years ahead, by these rules."""

    as_of: date
    within_years: float
    rules: Rules


@dataclass(frozen=True)
class _Car:
    """The car's parts as answers name them."""

    by_id: Mapping[str, Outlook]
    planned: Mapping[str, PlannedPart]
    positions: Mapping[str, str]

    def part(self, name: str) -> dict[str, Any]:
        """What names a part; nulls for the visits as a whole."""
        if name not in self.by_id:
            return dict.fromkeys(("fitment_id", "kind", "part", "position"))
        kind = load_catalogue()[self.by_id[name].row.kind]
        place = self.positions[name] or None
        return {"fitment_id": name, "kind": kind.id, "part": kind.name_gb, "position": place}

    def note(self, name: str, words: str) -> dict[str, Any]:
        """What there is to say about a part, and to mind."""
        if name not in self.by_id:
            return {**self.part(name), "words": words, "safety": False, "cautions": []}
        return {**self.part(name), "words": words, **minded(load_catalogue()[self.by_id[name].row.kind])}

    def job(self, name: str) -> dict[str, Any]:
        """One job of a visit."""
        planned = self.planned[name]
        likely = self.by_id[name].window.likely
        return {
            **self.part(name), "safety": planned.safety, "likely": likely, "planned_cost": planned.money,
        }  # fmt: skip


def visits(session: Session, who: Principal, vehicle: Vehicle, asked: Asked) -> VisitsOut:
    """Group a car's work."""
    parts = outlooks(session, store.all_of_vehicle(session, vehicle.fleet_id, vehicle.id), asked.as_of)
    positions = store.positions(session, vehicle.fleet_id, [one.row.fitment_id for one in parts])
    planned = planned_parts(session, vehicle.fleet_id, parts, positions)
    car = _Car({one.row.fitment_id: one for one in parts}, {part.name: part for part in planned}, positions)
    plan = _plan(parts, planned, asked)
    return VisitsOut.model_validate(
        {
            "do_not_drive": no_driving.forbidden(session, vehicle.fleet_id, vehicle.id),
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "as_of": asked.as_of,
            "within_years": asked.within_years,
            "currency": who.currency,
            "visits": [_visit(visit, car) for visit in plan.visits],
            "cost": round(plan.grouping.cost, 2),
            "cost_apart": round(plan.grouping.cost_apart, 2),
            "saved": round(plan.grouping.saved, 2),
            "exact": plan.grouping.exact,
            "could_not_fit": [car.note(name, words) for name, words in plan.could_not_fit],
            "accepted_risk": _accepted(plan, car),
            "leave_alone": [car.note(name, words) for name, words in plan.leave_alone],
        }
    )


def _plan(parts: Sequence[Outlook], planned: Sequence[PlannedPart], asked: Asked) -> CarPlan:
    if not parts:
        return CarPlan((), (), group_visits([], asked.rules.workshop), ())
    return plan_car(
        planned,
        driven(parts, asked.as_of),
        asked.as_of,
        asked.rules.workshop,
        horizon_years=asked.within_years,
        visits_within=asked.within_years,
        closed=asked.rules.closed,
        season=asked.rules.season,
    )


def _visit(visit: DatedVisit, car: _Car) -> dict[str, Any]:
    kinds = [load_catalogue()[car.by_id[name].row.kind] for name in visit.jobs]
    return {
        "week_of": visit.week_of,
        "jobs": [car.job(name) for name in visit.jobs],
        "hours": round(sum(car.planned[name].hours for name in visit.jobs), 1),
        "money": round(sum(car.planned[name].money for name in visit.jobs), 2),
        "cost": round(visit.cost, 2),
        "cautions": list(dict.fromkeys(caution for kind in kinds for caution in cautions_of(kind))),
    }


def _accepted(plan: CarPlan, car: _Car) -> list[dict[str, Any]]:
    return [
        car.note(renewal.name, f"{renewal.accepted} {renewal.warning}".strip())
        for renewal in plan.renewals
        if renewal.accepted
    ]
