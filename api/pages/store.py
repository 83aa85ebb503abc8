"""Queries that only the pages need: how much comes due, day by day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlmodel import col, func, select

from api.storage.tables import Forecast

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session


def due_by_day(session: Session, fleet_id: str, last: date) -> list[tuple[date, int]]:
    """(likely day, number of parts) for the days up to one; the index narrows it to what is due by then."""
    likely: Any = Forecast.due_likely  # never null here, by the condition below
    found = (
        select(likely, func.count())
        .where(
            Forecast.fleet_id == fleet_id,
            col(Forecast.due_earliest) <= last,
            col(Forecast.due_likely) <= last,
        )
        .group_by(likely)
        .order_by(likely)
    )
    return [(when, count) for when, count in session.exec(found)]
