"""Past predictions for one kind of one fleet: its rows to histories, the planner's account to JSON."""

from __future__ import annotations

import math
import random
from dataclasses import asdict
from datetime import date
from typing import TYPE_CHECKING, Any

from api.bridge import gather, store
from api.bridge.in_force.terms import terms_of
from api.bridge.learning.learn import FIT_SEED
from api.bridge.words import significant
from api.fleets.today import today_of
from planner import backtest
from planner.catalogue import load_catalogue
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlmodel import Session

    from api.jobs import Sessions
    from planner.history.part_history import PartHistory
    from planner.progress import Progress

MOST_CARS = 2_000
"""Of more cars so many are picked by lot, always the same ones: the figures' errors are small by then."""


def look_back(
    sessions: Sessions, fleet_id: str, kind: str, asked: dict[str, Any], progress: Progress
) -> dict[str, Any]:
    """Hold past predictions for a kind against what came.

    Args:
        sessions: transactions.
        fleet_id: whose records.
        kind: of part.
        asked: {"every", "horizon_years", "first"}.
        progress: told after each past day.

    Returns:
        The planner's account as JSON, with what was asked, "up_to" and "cars_asked".

    Raises:
        TooFewFailures: the records hold nothing to look back on.
    """
    progress(0, 0, "reading the histories")
    with sessions.reading() as session:
        entry = load_catalogue()[kind]
        terms = terms_of(entry, store.settings(session, fleet_id, [kind]).get(kind))
        today = today_of(session, fleet_id)
        cars = store.vehicles_with(session, fleet_id, kind)
        histories = list(_histories(session, fleet_id, kind, _by_lot(cars)))
    first = asked["first"]
    found = backtest(
        histories,
        terms.clocks,
        today,
        prior=book_prior(entry, terms.clocks) if terms.prior == "book" else None,
        every=asked["every"],
        horizon_years=asked["horizon_years"],
        first=None if first is None else date.fromisoformat(first),
        seed=FIT_SEED,
        progress=progress,
    )
    told = {**asdict(found), **asked, "up_to": today, "cars_asked": len(cars)}
    return {name: _plain(value) for name, value in told.items()}


def _by_lot(cars: list[str]) -> list[str]:
    if len(cars) <= MOST_CARS:
        return cars
    return sorted(random.Random(FIT_SEED).sample(cars, MOST_CARS))  # noqa: S311 - a sample, no secret


def _histories(session: Session, fleet_id: str, kind: str, cars: list[str]) -> Iterator[PartHistory]:
    for start in range(0, len(cars), gather.CARS_AT_ONCE):
        for car in gather.cars(session, fleet_id, cars[start : start + gather.CARS_AT_ONCE]):
            yield from (part.history for part in car.parts if part.row.kind == kind)


def _plain(value: Any) -> Any:
    """JSON's types, figures to four digits; what is no number is null."""
    match value:
        case bool() | int() | str() | None:
            return value
        case date():
            return value.isoformat()
        case dict():
            return {name: _plain(inner) for name, inner in value.items()}
        case list() | tuple():
            return [_plain(inner) for inner in value]
        case _:
            return significant(float(value), 4) if math.isfinite(value) else None
