"""Parts to order, from the fleet's forecasts and its keepers' decisions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.bridge.forecasts.decisions import Decided, decided
from api.bridge.forecasts.months import fails_by_months
from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.words import significant
from api.orders import store
from api.orders.schemas import PartsToOrder
from api.problems import Cannot
from api.schedules.answers import minded
from planner.catalogue import load_catalogue
from planner.risk import InUse, KindOrder, MonthHours, parts_to_order, set_of, workshop_hours

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.security import Principal

MOST_PARTS = 50_000
"""Parts in service that one answer weighs: some seconds of work."""

NOTES = (
    "An estimate: the number that is enough covers failures as well as the plan, with the chance asked for.",
    "A part put off counts on its new day, a declined one when it fails.",
    "Hours count shared access for each job, so they are on the high side.",
)


@dataclass(frozen=True)
class Asked:
    """What was asked: seen from a day, so many months, enough with that chance, delivery in so many days."""

    as_of: date
    months: int
    chance: float
    lead_days: int


def orders(session: Session, who: Principal, asked: Asked) -> PartsToOrder:
    """What the fleet will want.

    Raises:
        Cannot: the fleet has too many parts in service for one answer.
    """
    if store.count(session, who.fleet_id) > MOST_PARTS:
        raise Cannot(f"more than {MOST_PARTS:,} parts in service are too many for one answer")
    rows = store.forecasts(session, who.fleet_id)
    parts = outlooks(session, [row for row, _ in rows], asked.as_of)
    positions = {row.fitment_id: position for row, position in rows}
    decisions = decided(session, who.fleet_id, parts, asked.as_of)
    fails = fails_by_months(parts, asked.as_of, asked.months)
    in_use = [
        InUse(
            one.row.fitment_id,
            one.row.kind,
            fails[one.row.fitment_id],
            _planned_on(one, decisions.get(one.row.fitment_id)),
            _set(one, positions[one.row.fitment_id]),
            one.kept.new_part_fault,
        )
        for one in parts
    ]
    found = parts_to_order(
        in_use, asked.as_of, months=asked.months, enough=asked.chance, lead_days=asked.lead_days
    )
    labour = {name: kind.labour_hours for name, kind in load_catalogue().items()}
    return PartsToOrder.model_validate(
        {
            "as_of": asked.as_of,
            "chance": asked.chance,
            "lead_days": asked.lead_days,
            "parts_in_service": len(parts),
            "items": [_order(order) for order in found if order.enough > 0],
            "workshop": [_hours(month) for month in workshop_hours(found, labour)],
            "notes": list(NOTES),
        }
    )


def _planned_on(one: Outlook, decision: Decided | None) -> date | None:
    if one.kept.since.found_bad is not None:
        return one.kept.since.found_bad
    if decision is None:
        return one.row.due_likely
    return None if decision.row.until is None else decision.window.likely


def _set(one: Outlook, position: str) -> str:
    name = set_of(one.row.kind, position)
    return f"{one.row.vehicle_id} {name}" if name else ""


def _order(order: KindOrder) -> dict[str, object]:
    kind = load_catalogue()[order.kind]
    months = [{**vars(need), "expected": significant(need.expected)} for need in order.months]
    return {
        "kind": order.kind,
        "part": kind.name_gb,
        "expected": significant(order.expected),
        "enough": order.enough,
        **minded(kind),
        "shelf": order.shelf or None,
        "months": months,
    }


def _hours(month: MonthHours) -> dict[str, object]:
    hours = {name: round(getattr(month, name), 1) for name in ("planned", "unplanned", "low", "high")}
    return {"month": month.month, **hours}
