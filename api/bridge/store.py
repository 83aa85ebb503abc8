"""Queries of the bridge: whole histories of cars, what is in force for a kind, forecasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar, cast

from sqlalchemy import String, and_, bindparam, delete, or_, update
from sqlalchemy import cast as cast_sql
from sqlalchemy import select as select_columns
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
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
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


def vehicles_behind(
    session: Session, fleet_id: str, kind: str, *, model_id: str, table: str, limit: int
) -> list[str]:
    """Ids of some cars whose forecast for a part of this kind rests on another model or interval table (by fingerprint)."""
    up_to_date = (
        select(Forecast.id)
        .where(
            Forecast.fleet_id == fleet_id,
            Forecast.fitment_id == col(Fitment.id),
            Forecast.model_id == model_id,
            col(Forecast.coefficients)["table"].as_string() == table,
        )
        .exists()
    )
    found = (
        select(Fitment.vehicle_id)
        .where(
            Fitment.fleet_id == fleet_id,
            Fitment.kind == kind,
            col(Fitment.in_service).is_(True),
            ~up_to_date,
        )
        .distinct()
        .order_by(Fitment.vehicle_id)
        .limit(limit)
    )
    return list(session.exec(found))


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


def current_models(session: Session, fleet_id: str, kinds: Collection[str]) -> dict[str, LifeModel]:
    """The model in force by kind; kinds without any are left out. Its content is read when it is first asked for."""
    found = select(LifeModel).where(
        LifeModel.fleet_id == fleet_id, col(LifeModel.kind).in_(kinds), col(LifeModel.current).is_(True)
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


class Behind(NamedTuple):
    """A forecast that rests on another life or other terms than those in force.

    Attributes:
        id: of the forecast.
        version: of the row as it was read.
        fitment_id, vehicle_id: of its part and car.
        as_of: day for which it was worked out.
        coefficients: as JSON text.
        due_earliest, due_likely, due_latest, decides: as they stand.
    """

    id: str
    version: int
    fitment_id: str
    vehicle_id: str
    as_of: date
    coefficients: str
    due_earliest: date | None
    due_likely: date | None
    due_latest: date | None
    decides: str


def forecasts_behind(
    session: Session,
    fleet_id: str,
    kind: str,
    *,
    model_id: str,
    table: str,
    apart: Collection[str],
    at_once: int,
) -> Iterator[list[Behind]]:
    """Forecasts of a kind that rest on another model or interval table, some at a time, in one pass.

    Parts that were measured or repaired are left out: their forecasts rest on their own histories as well.

    Args:
        session: a session that reads; it must stay open meanwhile.
        fleet_id: whose.
        kind: part kind.
        model_id: the model in force.
        table: fingerprint of the interval table in force.
        apart: cars that go by a life of their own, left out too.
        at_once: how many at a time.
    """
    up_to_date = and_(
        col(Forecast.model_id).is_not_distinct_from(model_id),
        col(Forecast.coefficients)["table"].as_string() == table,
    )
    columns = (
        col(Forecast.id),
        col(Forecast.version),
        col(Forecast.fitment_id),
        col(Forecast.vehicle_id),
        col(Forecast.as_of),
        cast_sql(col(Forecast.coefficients), String),
        col(Forecast.due_earliest),
        col(Forecast.due_likely),
        col(Forecast.due_latest),
        col(Forecast.decides),
    )
    found = select_columns(*columns).where(
        col(Forecast.fleet_id) == fleet_id,
        col(Forecast.kind) == kind,
        col(Forecast.coefficients)["measured"].as_string().is_(None),
        col(Forecast.coefficients)[("since", "set_back")].as_string().is_(None),
        col(Forecast.vehicle_id).not_in(apart),
        ~up_to_date,
    )
    rows = session.execute(found, execution_options={"yield_per": at_once})
    for part in rows.partitions():
        yield [Behind._make(row) for row in part]


def own_limits(session: Session, fleet_id: str, kind: str) -> dict[str, Fitment]:
    """The fitments of a kind in service that have a limit of their own."""
    found = select(Fitment).where(
        Fitment.fleet_id == fleet_id,
        Fitment.kind == kind,
        col(Fitment.in_service).is_(True),
        or_(col(Fitment.cap_value).is_not(None), col(Fitment.cap_years).is_not(None)),
    )
    return {row.id: row for row in session.exec(found)}


def write_forecasts(session: Session, rows: Sequence[dict[str, Any]]) -> None:
    """Write columns of forecasts, each row named by ``row_id`` and ``row_version``.

    A row that has changed since it was read stays as it is: whoever changed it re-planned it.
    """
    if not rows:
        return
    named = [name for name in rows[0] if name not in {"row_id", "row_version"}]
    table = Forecast.__table__  # type: ignore[attr-defined]  # SQLModel sets it on table classes
    values: dict[str, Any] = {name: bindparam(name) for name in named}
    changed = update(table).where(
        table.c.id == bindparam("row_id"), table.c.version == bindparam("row_version")
    )
    session.connection().execute(
        changed.values(**values, version=table.c.version + 1, updated_at=utc_now()), rows
    )
