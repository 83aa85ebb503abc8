"""Queries for decisions to put work off."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import select

from api.storage.tables import Forecast, PutOff

if TYPE_CHECKING:
    from sqlmodel import Session


def decision(session: Session, fleet_id: str, fitment_id: str) -> PutOff | None:
    """The decision about one fitment."""
    found = select(PutOff).where(PutOff.fleet_id == fleet_id, PutOff.fitment_id == fitment_id)
    return session.exec(found).one_or_none()


def forecast(session: Session, fleet_id: str, fitment_id: str) -> Forecast | None:
    """The forecast of one part in service."""
    found = select(Forecast).where(Forecast.fleet_id == fleet_id, Forecast.fitment_id == fitment_id)
    return session.exec(found).one_or_none()
