"""Queries for what looking back on a kind gave."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import select

from api.storage.tables import KindBacktest

if TYPE_CHECKING:
    from sqlmodel import Session


def found(session: Session, fleet_id: str, kind: str) -> KindBacktest | None:
    """What was last found for a kind."""
    chosen = select(KindBacktest).where(KindBacktest.fleet_id == fleet_id, KindBacktest.kind == kind)
    return session.exec(chosen).one_or_none()
