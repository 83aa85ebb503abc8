"""Rules of kinds: asked for, worked out by a job, read as stored."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from api import jobs
from api.bridge import store as bridge_store
from api.bridge.in_force import models
from api.bridge.in_force.ready import make_ready
from api.bridge.words import distance, significant, years_words
from api.fleets.store import discount_rate
from api.rules import store
from api.rules.schemas import RuleFigures, RuleOut
from api.schedules.answers import cautions_of
from api.storage import dialect
from api.storage.tables import KindRule
from planner.interval import best_kind_rule, lognormal_use

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from sqlmodel import Session

    from api.bridge.in_force.models import InForce
    from api.jobs import Sessions
    from api.security import Principal
    from api.storage.tables import Job
    from planner.catalogue import PartKind
    from planner.progress import Progress
    from planner.units import DistanceUnit

RULE = "rule"

FEWEST_CARS = 5
"""With fewer cars the usual spread of such cars stands in for the fleet's own."""

MOST_RATES = 24
LEAST_KM_PER_YEAR = 50.0


def ask(session: Session, who: Principal, kind: PartKind) -> Job:
    """Queue the working out of a kind's rule."""
    return jobs.enqueue(session, who.fleet_id, kind=RULE, payload={"kind": kind.id})


def work_out(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Work a kind's rule out over the fleet's spread of use and store it.

    Returns:
        {"kind", "cars"}.
    """
    kind = str(payload["kind"])
    make_ready(sessions.database, job.fleet_id, [kind])
    with sessions() as session:
        force = models.in_force(session, job.fleet_id, [kind])[kind]
        own = store.yearly_distances(session, job.fleet_id)
    progress(0, 0, "searching the pair")
    content = _content(force, own)
    with sessions() as session:
        dialect.wait_for_turn(session, f"rule {job.fleet_id} {kind}")
        row = store.rule(session, job.fleet_id, kind)
        values: dict[str, Any] = {
            "model_id": force.model_id,
            "fingerprint": force.terms.fingerprint,
            "content": content,
        }
        if row is None:
            row = KindRule(fleet_id=job.fleet_id, kind=kind, **values)
        else:
            row.sqlmodel_update(values)
        session.add(row)
    return {"kind": kind, "cars": content["cars"]}


jobs.register(RULE, work_out)


def read(session: Session, who: Principal, kind: PartKind, unit: DistanceUnit) -> RuleOut:
    """A kind's rule as last worked out."""
    row = store.rule(session, who.fleet_id, kind.id)
    rule = None if row is None else _figures(row.content, unit)
    return RuleOut(
        kind=kind.id,
        part=kind.name_gb,
        currency=who.currency,
        rule=rule,
        words=_words(rule, kind),
        up_to_date=row is not None and _holds(session, who.fleet_id, kind, row),
        worked_out_at=None if row is None else row.updated_at,
        safety=kind.safety,
        cautions=cautions_of(kind),
    )


def _content(force: InForce, own: list[float]) -> dict[str, Any]:
    rates, weights = _spread(own)
    terms = force.terms
    found = best_kind_rule(
        force.life,
        terms.costs,
        rates,
        weights,
        max_risk=terms.max_risk,
        cap=terms.cap,
        discount=terms.discount,
    )
    figures = {name: float(value) if math.isfinite(value) else None for name, value in vars(found).items()}
    return {**figures, "cars": len(own) if len(own) >= FEWEST_CARS else 0}


def _spread(own: list[float]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(yearly distances, weights): the fleet's own, thinned to its quantiles, or that of such cars."""
    if len(own) < FEWEST_CARS:
        return lognormal_use()
    count = min(len(own), MOST_RATES)
    rates = np.quantile(np.maximum(own, LEAST_KM_PER_YEAR), (np.arange(count) + 0.5) / count)
    return rates, np.full(count, 1.0 / count)


def _holds(session: Session, fleet_id: str, kind: PartKind, row: KindRule) -> bool:
    """Whether a stored rule rests on what is in force now."""
    current = bridge_store.current_models(session, fleet_id, [kind.id]).get(kind.id)
    settings = bridge_store.settings(session, fleet_id, [kind.id]).get(kind.id)
    terms = models.terms_in_force(kind, settings, discount_rate(session, fleet_id), current)
    return current is not None and (row.model_id, row.fingerprint) == (current.id, terms.fingerprint)


def _figures(content: dict[str, Any], unit: DistanceUnit) -> RuleFigures:
    far = distance(content["km"], unit)
    return RuleFigures.model_validate(
        {
            "distance": None if far is None else {**far, "value": significant(far["value"])},
            "years": None if content["years"] is None else significant(content["years"]),
            "cost_per_year": significant(content["cost_per_year"]),
            "cost_if_each_had_its_own": significant(content["cost_if_each_had_its_own"]),
            "cost_run_to_failure": significant(content["cost_run_to_failure"]),
            "distance_first": round(content["km_first"], 2),
            "cars": content["cars"],
        }
    )


def _words(rule: RuleFigures | None, kind: PartKind) -> str:
    if rule is None:
        return "Not worked out yet: ask for it with POST to its rules."
    far = None if rule.distance is None else f"{rule.distance.value:,.0f} {rule.distance.unit}"
    long = None if rule.years is None else years_words(rule.years)
    both = [part for part in (far, long) if part is not None]
    if not both:
        return (
            f"Run the {kind.name_gb} to failure and carry a spare: no one rule for all cars saves anything."
        )
    first = ", whichever comes first" if len(both) > 1 else ""
    return f"Renew the {kind.name_gb} at {' or '.join(both)}{first}. The maker's limit comes before it."
