"""Queries of the bridge: whole histories of cars, what is in force for a kind, forecasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar, cast

from sqlalchemy import delete
from sqlalchemy.orm import defer
from sqlmodel import col, select

from api.storage.tables import (
    Fitment,
    Forecast,
    Inspection,
    IntervalTable,
    KindSettings,
    LifeModel,
    OdometerReading,
    PutOff,
    Removal,
    Repair,
    Vehicle,
    VehicleUsage,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from sqlmodel import Session

EventT = TypeVar("EventT", Inspection, Repair, Removal)


def vehicles(session: Session, fleet_id: str, ids: Collection[str]) -> list[Vehicle]:
    """The cars of those ids, in the order of their ids."""
    found = select(Vehicle).where(Vehicle.fleet_id == fleet_id, col(Vehicle.id).in_(ids))
    return list(session.exec(found.order_by(col(Vehicle.id))))


def hold_vehicles(session: Session, fleet_id: str, ids: Collection[str]) -> None:
    """Hold cars until the transaction ends, in one order, so that nobody waits in a ring."""
    found = select(Vehicle.id).where(Vehicle.fleet_id == fleet_id, col(Vehicle.id).in_(ids))
    session.exec(found.order_by(col(Vehicle.id)).with_for_update()).all()


def readings(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> list[OdometerReading]:
    """All odometer readings of cars, by day and entry."""
    found = select(OdometerReading).where(
        OdometerReading.fleet_id == fleet_id, col(OdometerReading.vehicle_id).in_(vehicle_ids)
    )
    order = (col(OdometerReading.read_on), col(OdometerReading.created_at), col(OdometerReading.id))
    return list(session.exec(found.order_by(*order)))


def fitments(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> list[Fitment]:
    """All fitments of cars, those in service and those removed."""
    found = select(Fitment).where(Fitment.fleet_id == fleet_id, col(Fitment.vehicle_id).in_(vehicle_ids))
    return list(session.exec(found.order_by(col(Fitment.created_at), col(Fitment.id))))


def events(
    session: Session, table: type[EventT], fleet_id: str, vehicle_ids: Collection[str]
) -> list[EventT]:
    """All inspections, repairs or removals of cars."""
    found = (
        select(table)
        .join(Fitment, col(Fitment.id) == col(table.fitment_id))
        .where(table.fleet_id == fleet_id, col(Fitment.vehicle_id).in_(vehicle_ids))
    )
    return list(session.exec(found.order_by(col(table.created_at), col(table.id))))


def any_repaired(session: Session, fleet_id: str, kind: str, actions: Sequence[str]) -> bool:
    """Whether any part of a kind had one of these repairs."""
    found = select(Repair.id).join(Fitment, col(Fitment.id) == col(Repair.fitment_id))
    of_kind = Repair.fleet_id == fleet_id, Fitment.kind == kind, col(Repair.action).in_(actions)
    return session.exec(found.where(*of_kind).limit(1)).first() is not None


def vehicles_with(session: Session, fleet_id: str, kind: str) -> list[str]:
    """Ids of the cars that have or had a part of this kind."""
    found = select(Fitment.vehicle_id).where(Fitment.fleet_id == fleet_id, Fitment.kind == kind).distinct()
    return sorted(session.exec(found))


def vehicles_not_seen_from(
    session: Session, fleet_id: str, day: date, *, after: str, limit: int
) -> list[str]:
    """Ids of cars whose dates were worked out before a day, in order: at most so many, and only ids after one of them."""
    found = select(VehicleUsage.vehicle_id).where(
        VehicleUsage.fleet_id == fleet_id, VehicleUsage.as_of < day, VehicleUsage.vehicle_id > after
    )
    return list(session.exec(found.order_by(col(VehicleUsage.vehicle_id)).limit(limit)))


def settings(session: Session, fleet_id: str, kinds: Collection[str]) -> dict[str, KindSettings]:
    """The fleet's own settings by kind; kinds without any are left out."""
    found = select(KindSettings).where(KindSettings.fleet_id == fleet_id, col(KindSettings.kind).in_(kinds))
    return {row.kind: row for row in session.exec(found)}


def current_models(
    session: Session, fleet_id: str, kinds: Collection[str], circumstances: str = ""
) -> dict[str, LifeModel]:
    """The model in force by kind, in the usual circumstances or in others; kinds without any are left out.

    Its content is read when it is first asked for.
    """
    found = select(LifeModel).where(
        LifeModel.fleet_id == fleet_id,
        col(LifeModel.kind).in_(kinds),
        LifeModel.circumstances == circumstances,
        col(LifeModel.current).is_(True),
    )
    content = LifeModel.content
    return {row.kind: row for row in session.exec(found.options(defer(cast("Any", content))))}


def models(session: Session, fleet_id: str, ids: Collection[str]) -> list[LifeModel]:
    """Models of one fleet by their ids."""
    found = select(LifeModel).where(LifeModel.fleet_id == fleet_id, col(LifeModel.id).in_(ids))
    return list(session.exec(found))


def interval_table(session: Session, fleet_id: str, model_id: str, fingerprint: str) -> IntervalTable | None:
    """The interval table of a model for the costs and limits with that fingerprint."""
    found = select(IntervalTable).where(
        IntervalTable.fleet_id == fleet_id,
        IntervalTable.model_id == model_id,
        IntervalTable.fingerprint == fingerprint,
    )
    return session.exec(found).one_or_none()


def forecasts(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> dict[str, Forecast]:
    """Forecasts of cars by fitment."""
    found = select(Forecast).where(Forecast.fleet_id == fleet_id, col(Forecast.vehicle_id).in_(vehicle_ids))
    return {row.fitment_id: row for row in session.exec(found)}


def drop_forecasts(session: Session, fleet_id: str, fitment_ids: Sequence[str]) -> None:
    """Delete the forecasts of these fitments."""
    if fitment_ids:
        session.execute(
            delete(Forecast).where(
                col(Forecast.fleet_id) == fleet_id, col(Forecast.fitment_id).in_(fitment_ids)
            )
        )


def usage(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> dict[str, VehicleUsage]:
    """How much each car is driven, by car."""
    found = select(VehicleUsage).where(
        VehicleUsage.fleet_id == fleet_id, col(VehicleUsage.vehicle_id).in_(vehicle_ids)
    )
    return {row.vehicle_id: row for row in session.exec(found)}


def put_offs(session: Session, fleet_id: str, fitment_ids: Collection[str]) -> list[PutOff]:
    """Keepers' decisions about some fitments."""
    found = select(PutOff).where(PutOff.fleet_id == fleet_id, col(PutOff.fitment_id).in_(fitment_ids))
    return list(session.exec(found))
