"""Forecasts seen from a day, as items of an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from api.bridge.forecasts.decisions import Decided, decided
from api.bridge.forecasts.outlook import Outlook, Until, outlooks
from api.bridge.words import clock_words, distance, evidence_words, priced, significant
from api.faults.store import open_complaints
from api.schedules import no_driving, store
from api.schedules.schemas import ChanceOf, DueItem, YearlyDistance
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Forecast, Vehicle, VehicleUsage
    from planner.catalogue import PartKind
    from planner.units import DistanceUnit


def items(session: Session, who: Principal, rows: Sequence[Forecast], as_of: date) -> list[DueItem]:
    """Forecasts as items, in their order."""
    cars = {row.vehicle_id for row in rows}
    vehicles = store.vehicles(session, who.fleet_id, cars)
    usage = store.usage(session, who.fleet_id, cars)
    positions = store.positions(session, who.fleet_id, [row.fitment_id for row in rows])
    parts = outlooks(session, rows, as_of)
    decisions = decided(session, who.fleet_id, parts, as_of)
    forbidden = no_driving.by_car(session, who.fleet_id, cars)
    complaints = _complaints(session, who.fleet_id, cars)
    return [
        _item(
            one,
            vehicles[one.row.vehicle_id],
            usage.get(one.row.vehicle_id),
            positions[one.row.fitment_id],
            who.currency,
            decisions.get(one.row.fitment_id),
            forbidden.get(one.row.vehicle_id),
            complaints.get(one.row.fitment_id, []),
        )
        for one in parts
    ]


def yearly(usage: VehicleUsage | None, unit: DistanceUnit) -> YearlyDistance | None:
    """How much a car is driven, to two significant figures: nobody knows it better."""
    if usage is None:
        return None
    ends = {"likely": usage.km_per_year, "low": usage.low, "high": usage.high}
    figures = {name: _rounded(km, unit, 2) for name, km in ends.items()}
    return YearlyDistance.model_validate({**figures, "basis": usage.basis})


def _item(
    one: Outlook,
    vehicle: Vehicle,
    usage: VehicleUsage | None,
    position: str,
    currency: str,
    decision: Decided | None,
    forbidden: str | None,
    complaints: Sequence[dict[str, str]],
) -> DueItem:
    kind = load_catalogue()[one.row.kind]
    unit = cast("DistanceUnit", vehicle.distance_unit)
    known = usage is not None and usage.km_at_as_of is not None
    window = one.window if decision is None else decision.window
    return DueItem.model_validate(
        {
            "do_not_drive": forbidden,
            "fitment_id": one.row.fitment_id,
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "kind": kind.id,
            "part": kind.name_gb,
            "position": position or None,
            "clocks": _clocks(one, unit, known=known),
            "window": window,
            "status": window.status,
            "decides": one.decides,
            "interval": {
                "distance": _rounded(one.kept.interval_km, unit, 2),
                "years": None if one.kept.interval_years is None else significant(one.kept.interval_years),
            },
            "chance_before_window": _chance(one.before_window),
            "chance_to_window_end": _chance(one.to_window_end),
            "evidence": _evidence(one),
            "cost": _cost(one, currency),
            "reason": priced(one.reason, currency),
            "put_off": _put_off(decision),
            "reported_complaints": complaints,
            "chance_of": CHANCE_OF[kind.end_of_life],
            **minded(kind),
        }
    )


DEFERENCE = (
    "Safety part: work on it can hurt somebody. Follow the maker's instructions and the law where you are, or leave it to a "
    "licensed workshop; an estimate is no inspection and postpones no limit."
)
"""What goes with every safety part, wherever it is named."""

CHANCE_OF: dict[str, ChanceOf] = {"failure": "failing", "limit": "reaching its limit"}
"""What a chance is of, by what ends a kind's life."""


def cautions_of(kind: PartKind) -> list[str]:
    """The kind's cautions, the note of a limit that binds it or has to be looked up, and what a safety part defers to."""
    limit = [kind.cap.note] if kind.cap.basis != "none" and kind.cap.note else []
    return [*kind.cautions, *limit, *([DEFERENCE] if kind.safety else [])]


def minded(kind: PartKind) -> dict[str, Any]:
    """What every naming of a part carries with it: whether it is a safety part, and its cautions."""
    return {"safety": kind.safety, "cautions": cautions_of(kind)}


def _complaints(
    session: Session, fleet_id: str, vehicle_ids: Collection[str]
) -> dict[str, list[dict[str, str]]]:
    """Complaints in open fault-findings, by each fitment that is suspected."""
    found: dict[str, list[dict[str, str]]] = {}
    for finding_id, complaint, title, suspects in open_complaints(session, fleet_id, vehicle_ids):
        for fitment_id in suspects:
            shown = {"finding_id": finding_id, "complaint": complaint, "title": title}
            found.setdefault(fitment_id, []).append(shown)
    return found


def _put_off(decision: Decided | None) -> dict[str, Any] | None:
    if decision is None:
        return None
    return {
        "until": decision.row.until,
        "accepted": decision.accepted,
        "warning": decision.warning or None,
    }


def _clocks(one: Outlook, unit: DistanceUnit, *, known: bool) -> dict[str, Any]:
    unknown = one.kept.since.age_unknown
    words = clock_words(
        one.km, one.years, unit, clocks=one.stored.life.clocks, age_unknown=unknown, known=known
    )
    return {
        "distance": _rounded(one.km, unit, 3),
        "age_years": round(one.years, 1),
        "age_unknown": unknown,
        "words": words,
    }


def _chance(until: Until) -> dict[str, Any]:
    """Two significant figures: the range says how little more would mean."""
    mean, low, high = (significant(p) for p in (until.chance.mean, until.chance.low, until.chance.high))
    return {"mean": mean, "low": low, "high": high, "until": until.until, "words": until.words}


def _evidence(one: Outlook) -> dict[str, Any]:
    evidence = one.stored.life.evidence
    return {
        "source": one.stored.source,
        "histories": round(evidence.histories, 2),
        "failures": round(evidence.failures, 2),
        "prior_share": round(evidence.prior_share, 2),
        "words": evidence_words(evidence),
    }


def _cost(one: Outlook, currency: str) -> dict[str, Any]:
    kept = one.kept
    return {
        "currency": currency,
        "planned": kept.planned,
        "failure": kept.failure,
        "per_year": significant(kept.cost_per_year),
        "run_to_failure_per_year": significant(kept.cost_run_to_failure),
        "basis": "own" if kept.own_costs else "book",
    }


def _rounded(km: float | None, unit: DistanceUnit, digits: int) -> dict[str, Any] | None:
    """A distance in the keeper's unit to so many significant figures."""
    found = distance(km, unit)
    return None if found is None else {**found, "value": significant(found["value"], digits)}
