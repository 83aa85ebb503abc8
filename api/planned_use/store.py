"""Queries for tours and lay-ups ahead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlmodel import col, select

from api.storage.tables import PlannedUse

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def planned_for(fleet_id: str, vehicle_id: str) -> SelectOfScalar[PlannedUse]:
    """A car's tours and lay-ups by their first day, for paging."""
    found = select(PlannedUse).where(PlannedUse.fleet_id == fleet_id, PlannedUse.vehicle_id == vehicle_id)
    return found.order_by(col(PlannedUse.starts_on), col(PlannedUse.id))


def all_planned_for(session: Session, fleet_id: str, vehicle_id: str) -> list[PlannedUse]:
    """The same, all of them."""
    return list(session.exec(planned_for(fleet_id, vehicle_id)))


def one_planned(session: Session, fleet_id: str, vehicle_id: str, plan_id: str) -> PlannedUse | None:
    """One of them by its id."""
    found = select(PlannedUse).where(
        PlannedUse.fleet_id == fleet_id, PlannedUse.vehicle_id == vehicle_id, PlannedUse.id == plan_id
    )
    return session.exec(found).one_or_none()


def planned_by_car(
    session: Session, fleet_id: str, vehicle_ids: Collection[str]
) -> dict[str, list[PlannedUse]]:
    """Tours and lay-ups of cars, by car."""
    found = select(PlannedUse).where(
        PlannedUse.fleet_id == fleet_id, col(PlannedUse.vehicle_id).in_(vehicle_ids)
    )
    by_car: dict[str, list[PlannedUse]] = {}
    for row in session.exec(found.order_by(col(PlannedUse.starts_on))):
        by_car.setdefault(row.vehicle_id, []).append(row)
    return by_car
