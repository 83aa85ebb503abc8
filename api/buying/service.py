"""The list of a car on offer, from lives, terms and limits in force; nothing is stored."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from api.bridge import store as bridge_store
from api.bridge.in_force import models
from api.bridge.in_force.book_lives import book_life_of
from api.bridge.words import significant
from api.buying.schemas import BuyingListOut
from api.fleets.store import discount_rate
from api.problems import Malformed
from api.risks.service import odds_of
from api.schedules.answers import CHANCE_OF, minded
from planner.catalogue import load_catalogue
from planner.history.dates import UncertainDate, years_between
from planner.interval import best_interval
from planner.risk import Chance
from planner.schedule import OfferedPart, buying_list
from planner.units import from_km, to_km

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from api.buying.schemas import BuyingListCreate
    from api.security import Principal
    from planner.catalogue import PartKind
    from planner.life.model import Life
    from planner.schedule import BuyingItem, BuyingList

THINNED = 8
"""Every eighth draw serves: a buyer's range is wide, and all kinds of a car are asked about at once."""

LITTLE_KM_PER_YEAR = 1_500.0
MUCH_KM_PER_YEAR = 40_000.0
OLD_YEARS = 12.0

NOTES = (
    "An estimate from the kind of part, not from this car: it is no inspection, and it certifies nothing.",
    "A part that no paper dates is treated as old; for chances its age is spread as the ages of such parts in service are.",
    "Costs are of the order of what the fleet or the book reckons with; bodywork, engine and gearbox are not in them.",
    "Every kind counts that such a car may have: leave out what this one has not (it has a timing belt or a chain).",
)


def buying(session: Session, who: Principal, body: BuyingListCreate) -> BuyingListOut:
    """What to treat as due, and the range of costs.

    Raises:
        Malformed: a car built, or a part fitted, in the future or in an impossible order.
    """
    today = who.today()
    built = UncertainDate.parse(body.built, field="built")
    if built.earliest > today:
        raise Malformed("built", f"a day up to {today}", body.built)
    years, km = years_between(built.earliest, today), body.odometer.km
    kinds = _kinds(body)
    lives, terms = _in_force(session, who, kinds)
    known = _known_years(body, built, today)
    pace = km / years if years > 0 else 0.0
    parts = [_offered(kind, lives[kind.id], terms[kind.id], pace, known.get(kind.id)) for kind in kinds]
    driven = to_km(body.per_year.value, body.per_year.unit)
    found = buying_list(parts, car_years=years, car_km=km, km_per_year=driven)
    return BuyingListOut.model_validate(
        {
            "currency": who.currency,
            "years_old": round(years, 1),
            "odometer": {"value": body.odometer.value, "unit": body.odometer.unit},
            "items": [_item(item) for item in found.items],
            "due_cost": significant(sum(item.cost_now for item in found.items if item.due), 3),
            **_totals(found),
            "ask": _ask(found, body, years, pace),
            "notes": list(NOTES),
        }
    )


def _kinds(body: BuyingListCreate) -> list[PartKind]:
    catalogue = load_catalogue()
    if body.kinds is not None:
        return [catalogue[name] for name in dict.fromkeys(body.kinds)]
    papers = {paper.kind for paper in body.papers}
    return [kind for kind in catalogue.values() if kind.fits(body.system) or kind.id in papers]


def _in_force(
    session: Session, who: Principal, kinds: list[PartKind]
) -> tuple[dict[str, Life], dict[str, Terms]]:
    """Lives and terms; the book's life where the fleet has none of the kind."""
    names = [kind.id for kind in kinds]
    settings = bridge_store.settings(session, who.fleet_id, names)
    rows = bridge_store.current_models(session, who.fleet_id, names)
    discount = discount_rate(session, who.fleet_id)
    terms = {
        kind.id: models.terms_in_force(kind, settings.get(kind.id), discount, rows.get(kind.id))
        for kind in kinds
    }
    lives = {
        name: models.life_of(rows[name]) if name in rows else book_life_of(name, terms[name].clocks)
        for name in names
    }
    return lives, terms


def _known_years(body: BuyingListCreate, built: UncertainDate, today: date) -> dict[str, float]:
    """Ages by papers, each at its oldest."""
    found = {}
    for place, paper in enumerate(body.papers):
        field = f"papers.{place}.fitted_on"
        fitted = UncertainDate.parse(paper.fitted_on, field=field)
        if fitted.earliest > today:
            raise Malformed(field, f"a day up to {today}", paper.fitted_on)
        if fitted.latest < built.earliest - timedelta(days=366):
            raise Malformed(field, f"a day after the car was built ({body.built})", paper.fitted_on)
        found[paper.kind] = years_between(max(fitted.earliest, built.earliest), today)
    return found


def _offered(kind: PartKind, life: Life, terms: Terms, pace: float, known: float | None) -> OfferedPart:
    thinned = replace(life, draws=life.draws[::THINNED])
    interval = best_interval(
        thinned, terms.costs, max(pace, 1.0), terms.max_risk, terms.cap, discount=terms.discount
    )
    return OfferedPart(kind.id, kind.id, thinned, terms.costs, interval, kind.safety, kind.stops_car, known)


def _item(item: BuyingItem) -> dict[str, Any]:
    kind = load_catalogue()[item.name]
    return {
        "kind": kind.id,
        "part": kind.name_gb,
        "due": item.due,
        "cost_now": item.cost_now,
        "chance_if_left": odds_of(Chance(item.chance_if_left, *item.chance_range)),
        "chance_of": CHANCE_OF[kind.end_of_life],
        "reason": item.reason,
        "look_at": kind.cheap_check,
        **minded(kind),
    }


def _totals(found: BuyingList) -> dict[str, Any]:
    ranges = {"if_done": found.if_done, "if_left": found.if_left}
    shown = {
        name: {at: significant(value) for at, value in vars(one).items()} for name, one in ranges.items()
    }
    stops = {name: significant(getattr(found, name)) for name in ("stops_if_done", "stops_if_left")}
    return {**shown, **stops}


def _ask(found: BuyingList, body: BuyingListCreate, years: float, pace: float) -> list[str]:
    """Questions before a price is agreed."""
    asked = []
    per_year = f"{significant(from_km(pace, body.odometer.unit)):,.0f} {body.odometer.unit} a year since it was built"
    if years >= OLD_YEARS and pace < LITTLE_KM_PER_YEAR:
        asked.append(
            f"The odometer means {per_year}: has the dial passed its end, was it replaced, or did the car stand? Ask for "
            "test certificates and invoices with figures on them."
        )
    if pace > MUCH_KM_PER_YEAR:
        asked.append(f"The odometer means {per_year}: ask what the car did.")
    unknown = [
        load_catalogue()[item.name].name_gb
        for item in found.items
        if item.due and item.safety and not _dated(item, body)
    ]
    if unknown:
        asked.append(
            f"Which papers say when these were renewed: {', '.join(unknown)}? Without one reckon with each now."
        )
    return asked


def _dated(item: BuyingItem, body: BuyingListCreate) -> bool:
    return any(paper.kind == item.name for paper in body.papers)
