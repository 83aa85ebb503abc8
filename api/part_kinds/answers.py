"""Catalogue entries, settings and lives as answers."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from api.bridge.in_force import models
from api.bridge.in_force.book_lives import book_life_of
from api.bridge.in_force.effects import listed
from api.bridge.in_force.terms import Terms, terms_of
from api.bridge.learning import repaired
from api.bridge.words import distance, evidence_words, significant
from api.part_kinds.life_schemas import LifeOut
from api.part_kinds.schemas import KindSettingsOut, PartKindOut
from planner.interval.odds import chance_in_words
from planner.life.second_opinions.against_prior import against_prior
from planner.usage import UsagePrior

if TYPE_CHECKING:
    from api.storage.tables import Job, KindSettings, LifeModel
    from planner.catalogue import PartKind
    from planner.life.life_point import LifePoint
    from planner.life.model import Life
    from planner.units import DistanceUnit

LIMITS_LEVEL = 0.8

BY_BOOK = (
    " {parts} by the book's multipliers: their day is unknown, they shared a complaint with others, or the records cannot carry a "
    "fit of both."
)

SAFETY_REPAIRS = "This is a safety part: no date of it counts on a repair."


def kind_out(kind: PartKind) -> PartKindOut:
    """A part kind."""
    return PartKindOut.model_validate(kind)


def settings_out(
    kind: PartKind, row: KindSettings | None, life: LifeModel | None, currency: str, job: Job | None = None
) -> KindSettingsOut:
    """A fleet's settings for a kind, with what is in force; the stored life says what the records teach of new parts."""
    own: dict[str, Any] = dict.fromkeys(
        ("clocks", "costs", "new_part_fault", "cap", "max_risk", "checking")
    ) | {"prior": "book"}
    if row is not None:
        own |= {name: getattr(row, name) for name in ("prior", "clocks", "new_part_fault", "max_risk")}
        own["costs"] = _costs(row.planned, row.failure, currency, own=True)
        own["cap"] = _own_cap(row)
        own["checking"] = _own_checking(row)
    job_address = None if job is None else f"/v1/jobs/{job.id}"
    terms = models.terms_in_force(kind, row, 0.0, life)
    in_force = _terms(terms, currency) | {
        "new_part_fault_from": _fault_from(terms, life),
        "new_part_fault_by_book": kind.new_part_fault,
    }
    return KindSettingsOut.model_validate({"kind": kind.id, **own, "in_force": in_force, "job": job_address})


def _fault_from(terms: Terms, life: LifeModel | None) -> str:
    if terms.own_fault:
        return "own"
    return "book" if life is None or models.fault_of(life) is None else "records"


def life_out(
    kind: PartKind, row: LifeModel | None, settings: KindSettings | None, unit: DistanceUnit
) -> LifeOut:
    """The life in force for a kind; the book's where none is stored."""
    terms = terms_of(kind, settings)
    life = book_life_of(kind.id, terms.clocks) if row is None else models.life_of(row)
    source = "book" if row is None else models.source_of(row)
    return LifeOut.model_validate(
        {
            "kind": kind.id,
            "id": None if row is None else row.id,
            "source": source,
            "prior": "none" if life.prior is None else "book",
            "clocks": list(life.clocks),
            "distance": _distance_law(life, unit),
            "age": None if life.age is None else {"shape": life.age.shape, "scale_years": life.age.scale},
            "log_likelihood": None if source == "book" else _finite(life.log_likelihood),
            "evidence": _evidence(life, row),
            "against_book": None if source == "book" else _against_book(life),
            "life_at_10_percent": _tenth(life, unit),
            "diagnostics": {name: _finite(value) for name, value in vars(life.diagnostics).items()},
            "new_parts": _new_parts(row),
            "cars_differ": _cars_differ(row),
            "repairs": _repairs(kind, row, life),
            "circumstances": _circumstances(kind, row, life),
            "left_out": {"count": 0, "named": []} if row is None else row.content["left_out"],
            "fitted_at": row.created_at if row is not None and source == "fitted" else None,
        }
    )


def _evidence(life: Life, row: LifeModel | None) -> dict[str, Any]:
    counts = models.counts_of(row)
    words = evidence_words(
        life.evidence, integrated_over=counts["integrated_over"], shared_events=counts["shared_events"]
    )
    by_book = models.by_book_of(row)
    if by_book:
        one, many = "1 part in circumstances of its own counts", "parts in circumstances of their own count"
        words += BY_BOOK.format(parts=one if by_book == 1 else f"{by_book} {many}")
    return {**vars(life.evidence), **counts, "words": words}


def _against_book(life: Life) -> dict[str, Any] | None:
    if life.prior is None:
        return None
    found = against_prior(life)
    return {"p": significant(found.p), "telling": found.telling, "words": found.words}


def _cars_differ(row: LifeModel | None) -> dict[str, Any] | None:
    differ = None if row is None else models.differ_of(row)
    if differ is None:
        return None
    notable = [
        {"vehicle_id": vehicle_id, **one, "words": f"{one['words']} ({one['range_words']})"}
        for vehicle_id, one in differ.multipliers.items()
    ]
    plain = {name: getattr(differ, name) for name in ("parts", "failures", "cars")}
    return {
        **plain,
        "spread": significant(differ.spread),
        "notable": [_without_range(one) for one in notable],
    }


def _without_range(one: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in one.items() if name != "range_words"}


def _new_parts(row: LifeModel | None) -> dict[str, Any] | None:
    kept = None if row is None else row.content.get(models.NEW_PARTS)
    if kept is None:
        return None
    odds = chance_in_words(*(kept[name] for name in ("mean", "low", "high")))
    watched, early = significant(kept["parts"], 3), significant(kept["early"])
    words = f"{odds} new parts bad; {watched:g} watched from new, {early:g} of them failed early"
    return {**{name: significant(value, 3) for name, value in kept.items()}, "words": words}


def _repairs(kind: PartKind, row: LifeModel | None, life: Life) -> dict[str, Any] | None:
    if life.prior is None:
        return None
    said = repaired.said({} if row is None else models.repairs_of(row), life.clocks[0])
    return said | {"words": f"{said['words']} {SAFETY_REPAIRS}"} if kind.safety else said


def _circumstances(kind: PartKind, row: LifeModel | None, life: Life) -> list[dict[str, Any]]:
    """What the catalogue's modifiers do to this life; nothing to one that was fitted without the book."""
    return [] if life.prior is None else listed(kind, life.clocks, models.whence_of(row).learnt)


def _distance_law(life: Life, unit: DistanceUnit) -> dict[str, Any] | None:
    if life.distance is None:
        return None
    return {"shape": life.distance.shape, "scale": distance(life.distance.scale, unit)}


def _tenth(life: Life, unit: DistanceUnit) -> dict[str, Any]:
    """Where a tenth of new parts has failed; two clocks need a yearly distance, that of a typical car."""
    rate = UsagePrior().median if len(life.clocks) == 2 else None
    point = life.life_at(0.10, rate)
    low, high = point.with_interval(LIMITS_LEVEL)
    return {
        **_point(point, unit),
        "assumed_per_year": distance(rate, unit),
        "low": _point(low, unit),
        "high": _point(high, unit),
    }


def _point(point: LifePoint, unit: DistanceUnit) -> dict[str, Any]:
    km = distance(point.km, unit)
    return {
        "distance": None if km is None else {**km, "value": significant(km["value"], 3)},
        "years": None if point.years is None else significant(point.years, 3),
    }


def _terms(terms: Terms, currency: str) -> dict[str, Any]:
    costs = terms.costs
    return {
        "clocks": list(terms.clocks),
        "costs": _costs(costs.planned, costs.failure, currency, own=terms.own_costs),
        "new_part_fault": costs.new_part_fault,
        "cap": {"distance": distance(terms.cap.km, "km"), "years": terms.cap.years},
        "max_risk": terms.max_risk,
        "checking": None
        if terms.checking is None
        else {
            "cost": terms.checking.cost,
            "delay_share": terms.checking.share,
            "sensitivity": terms.checking.finds,
        },
    }


def _costs(
    planned: float | None, failure: float | None, currency: str, *, own: bool
) -> dict[str, Any] | None:
    if planned is None or failure is None:
        return None
    basis = "own" if own else "book"
    return {"planned": planned, "failure": failure, "currency": currency, "basis": basis}


def _own_cap(row: KindSettings) -> dict[str, Any] | None:
    if row.cap_value is None and row.cap_years is None:
        return None
    own = None if row.cap_value is None else {"value": row.cap_value, "unit": row.cap_unit}
    return {"distance": own, "years": row.cap_years}


def _own_checking(row: KindSettings) -> dict[str, Any] | None:
    own = {
        "cost": row.check_cost,
        "delay_share": row.delay_share,
        "sensitivity": row.check_sensitivity,
    }
    return None if all(value is None for value in own.values()) else own


def _finite(value: float | str) -> float | str | None:
    return None if isinstance(value, float) and not math.isfinite(value) else value
