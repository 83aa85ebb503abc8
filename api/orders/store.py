"""Queries for parts to order: every forecast of a fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import func
from sqlmodel import col, select

from api.storage.tables import Fitment, Forecast

if TYPE_CHECKING:
    from sqlmodel import Session


def count(session: Session, fleet_id: str) -> int:
    """How many parts are in service."""
    return session.exec(select(func.count()).select_from(Forecast).where(Forecast.fleet_id == fleet_id)).one()


def forecasts(session: Session, fleet_id: str) -> list[tuple[Forecast, str]]:
    """Every forecast of a fleet, with the position of its part."""
    found = (
        select(Forecast, Fitment.position)
        .join(Fitment, col(Fitment.id) == col(Forecast.fitment_id))
        .where(Forecast.fleet_id == fleet_id)
        .order_by(col(Forecast.kind), col(Forecast.id))
    )
    return [(row, position) for row, position in session.exec(found)]
