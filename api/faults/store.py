"""Queries for fault-findings, own complaints and own checks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

from sqlmodel import col, select

from api.storage.tables import FaultFinding, Fitment, Forecast, OwnCheck, OwnComplaint, Vehicle

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar

OwnT = TypeVar("OwnT", OwnComplaint, OwnCheck)


def finding(session: Session, fleet_id: str, finding_id: str) -> FaultFinding | None:
    """One fault-finding of one fleet."""
    found = select(FaultFinding).where(FaultFinding.fleet_id == fleet_id, FaultFinding.id == finding_id)
    return session.exec(found).one_or_none()


def findings_of(fleet_id: str, vehicle_id: str) -> SelectOfScalar[FaultFinding]:
    """One car's fault-findings in the order in which they were opened, for paging."""
    found = select(FaultFinding).where(
        FaultFinding.fleet_id == fleet_id, FaultFinding.vehicle_id == vehicle_id
    )
    return found.order_by(col(FaultFinding.created_at), col(FaultFinding.id))


def open_complaints(
    session: Session, fleet_id: str, vehicle_ids: Collection[str]
) -> Sequence[tuple[str, str, str, Sequence[str]]]:
    """Id, complaint, its title and the suspects of each case that is open on these cars; one query."""
    found = (
        select(FaultFinding.id, FaultFinding.complaint, FaultFinding.title, FaultFinding.suspects)
        .where(
            FaultFinding.fleet_id == fleet_id,
            col(FaultFinding.vehicle_id).in_(vehicle_ids),
            col(FaultFinding.closed_on).is_(None),
        )
        .order_by(col(FaultFinding.created_at), col(FaultFinding.id))
    )
    return session.exec(found).all()


def open_cases(
    session: Session, fleet_id: str, vehicle_ids: Collection[str] | None
) -> Sequence[tuple[FaultFinding, str]]:
    """The open cases of a fleet, or of these cars of it, with the car's name, oldest first."""
    found = (
        select(FaultFinding, Vehicle.name)
        .join(Vehicle, col(Vehicle.id) == col(FaultFinding.vehicle_id))
        .where(FaultFinding.fleet_id == fleet_id, col(FaultFinding.closed_on).is_(None))
        .order_by(col(FaultFinding.created_at), col(FaultFinding.id))
    )
    if vehicle_ids is not None:
        found = found.where(col(FaultFinding.vehicle_id).in_(vehicle_ids))
    return session.exec(found).all()


def causes(session: Session, fleet_id: str, complaint: str, system: str | None) -> list[dict[str, Any]]:
    """What the fleet's closed cases of one complaint on cars of one system taught, in the order of their closing."""
    found = select(FaultFinding.cause).where(
        FaultFinding.fleet_id == fleet_id,
        FaultFinding.complaint == complaint,
        col(FaultFinding.closed_on).is_not(None),
        FaultFinding.system == system,
    )
    return [dict(cause) for cause in session.exec(found.order_by(col(FaultFinding.id))) if cause]


def forecasts(session: Session, fleet_id: str, vehicle_id: str) -> list[tuple[Forecast, str]]:
    """The forecast and the position of every part in service on a car."""
    found = (
        select(Forecast, Fitment.position)
        .join(Fitment, col(Fitment.id) == col(Forecast.fitment_id))
        .where(Forecast.fleet_id == fleet_id, Forecast.vehicle_id == vehicle_id)
    )
    return list(
        session.exec(found.order_by(col(Forecast.kind), col(Fitment.position), col(Forecast.id))).all()
    )


def fitments(session: Session, fleet_id: str, vehicle_id: str) -> list[Fitment]:
    """Every part that a car has or had, as entered."""
    found = select(Fitment).where(Fitment.fleet_id == fleet_id, Fitment.vehicle_id == vehicle_id)
    return list(session.exec(found.order_by(col(Fitment.created_at), col(Fitment.id))))


def own(session: Session, table: type[OwnT], fleet_id: str) -> list[OwnT]:
    """The fleet's own complaints or checks, by name."""
    return list(session.exec(select(table).where(table.fleet_id == fleet_id).order_by(col(table.name))))


def own_named(session: Session, table: type[OwnT], fleet_id: str, name: str) -> OwnT | None:
    """One of them."""
    found = select(table).where(table.fleet_id == fleet_id, table.name == name)
    return session.exec(found).one_or_none()
