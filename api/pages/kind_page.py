"""A part kind's page: how long such parts last, what each interval costs, and what that rests on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from api.bridge import store as stored
from api.bridge.in_force import models
from api.bridge.in_force.book_lives import book_life_of
from api.bridge.learning.curves import curve_of
from api.bridge.words import interval_words, priced
from api.fleets.store import discount_rate
from api.part_kinds import answers, service, store
from api.schedules.answers import cautions_of
from planner.figures import Picture, interval_cost, life_curve
from planner.interval import IntervalTable
from planner.units import DistanceUnit, from_km, to_km
from planner.usage import UsagePrior

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from api.security import Principal
    from planner.catalogue import PartKind
    from planner.history.spells import Clock
    from planner.interval import Interval
    from planner.life.model import Life
    from planner.life.nonparametric import SurvivalCurve

NO_RECORDS = "no part of this kind is on record here"
NOT_KEPT = "the life in force was not fitted to this fleet's records"


@dataclass(frozen=True)
class Driven:
    """A car to look at the kind for.

    Attributes:
        per_year: yearly distance in its unit; None: what such cars usually do.
        unit: "km" or "mi".
    """

    per_year: float | None
    unit: DistanceUnit

    @property
    def km(self) -> float:
        """Its yearly distance in km."""
        return UsagePrior().median if self.per_year is None else to_km(self.per_year, self.unit)

    @property
    def shown(self) -> float:
        """Its yearly distance in its unit."""
        return from_km(self.km, self.unit)


@dataclass(frozen=True)
class InForce:
    """What this fleet's answers about a kind rest on; the book where nothing of the kind is on record.

    Attributes:
        stored: whether a life is stored for the kind, which is so once a part of it is on record.
        interval: None where no table stands for the present terms yet.
        alone: the curve of the records alone, or why there is none.
    """

    kind: PartKind
    life: Life
    terms: Terms
    stored: bool
    interval: Interval | None
    alone: SurvivalCurve | str


def content(session: Session, who: Principal, name: str, driven: Driven) -> dict[str, Any]:
    """What the page shows.

    Raises:
        NotFound: the catalogue holds no such kind.
    """
    kind = service.found_kind(name)
    force = _in_force(session, who, kind, driven)
    settings = store.settings(session, who.fleet_id, name)
    row = store.current_life(session, who.fleet_id, name)
    return {
        "kind": kind,
        "life": answers.life_out(kind, row, settings, driven.unit),
        "settings": answers.settings_out(kind, settings, row, who.currency),
        "advice": None
        if force.interval is None
        else priced(interval_words(force.interval, force.life.clocks, driven.unit), who.currency),
        "stored": force.stored,
        "no_curve": force.alone if isinstance(force.alone, str) else "",
        "driven": driven,
        "cautions": cautions_of(kind),
        "pictures": (_life(force, driven), _cost(force, driven, who.currency)),
    }


def life_picture(session: Session, who: Principal, name: str, driven: Driven) -> Picture:
    """The life curve."""
    return _life(_in_force(session, who, service.found_kind(name), driven), driven)


def cost_picture(session: Session, who: Principal, name: str, driven: Driven) -> Picture:
    """The interval cost curve."""
    return _cost(_in_force(session, who, service.found_kind(name), driven), driven, who.currency)


def by_family(kinds: Iterable[PartKind]) -> list[tuple[str, list[PartKind]]]:
    """Kinds under their families, families in the catalogue's order, kinds by name."""
    found: dict[str, list[PartKind]] = {}
    for kind in kinds:
        found.setdefault(kind.family, []).append(kind)
    return [(family, sorted(those, key=lambda kind: kind.name_gb)) for family, those in found.items()]


def _in_force(session: Session, who: Principal, kind: PartKind, driven: Driven) -> InForce:
    """The stored life and interval; no fit and no search for an optimum: without a stored table no interval."""
    row = store.current_life(session, who.fleet_id, kind.id)
    settings = store.settings(session, who.fleet_id, kind.id)
    terms = models.terms_in_force(kind, settings, discount_rate(session, who.fleet_id), row)
    if row is None:
        life = book_life_of(kind.id, terms.clocks)
        return InForce(kind, life, terms, stored=False, interval=None, alone=NO_RECORDS)
    table = stored.interval_table(session, who.fleet_id, row.id, terms.fingerprint)
    interval = None if table is None else IntervalTable.from_dict(table.content).at(driven.km)
    life = models.life_of(row)
    own_clock: Clock = "distance" if life.clocks == ("distance",) else "age"
    alone = curve_of(row.content, own_clock) or NOT_KEPT
    return InForce(kind, life, terms, stored=True, interval=interval, alone=alone)


def _life(force: InForce, driven: Driven) -> Picture:
    curve = None if isinstance(force.alone, str) else force.alone
    return life_curve(force.life, km_per_year=driven.km, curve=curve, unit=driven.unit)


def _cost(force: InForce, driven: Driven, currency: str) -> Picture:
    return interval_cost(
        force.life,
        force.terms.costs,
        km_per_year=driven.km,
        interval=force.interval,
        currency=currency,
        unit=driven.unit,
        discount=force.terms.discount,
    )
