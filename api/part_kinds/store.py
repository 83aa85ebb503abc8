"""Queries for a fleet's settings and lives by part kind."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, select

from api.storage.tables import KindSettings, LifeModel

if TYPE_CHECKING:
    from sqlmodel import Session


def settings(session: Session, fleet_id: str, kind: str) -> KindSettings | None:
    """The fleet's own settings for a kind."""
    found = select(KindSettings).where(KindSettings.fleet_id == fleet_id, KindSettings.kind == kind)
    return session.exec(found).one_or_none()


def settings_for_change(session: Session, fleet_id: str, kind: str) -> KindSettings | None:
    """The same, held until the transaction ends."""
    found = select(KindSettings).where(KindSettings.fleet_id == fleet_id, KindSettings.kind == kind)
    return session.exec(found.with_for_update()).one_or_none()


def current_life(session: Session, fleet_id: str, kind: str) -> LifeModel | None:
    """The life in force for a kind."""
    found = select(LifeModel).where(
        LifeModel.fleet_id == fleet_id,
        LifeModel.kind == kind,
        LifeModel.circumstances == "",
        col(LifeModel.current).is_(True),
    )
    return session.exec(found).one_or_none()
