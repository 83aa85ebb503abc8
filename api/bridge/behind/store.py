"""Queries about forecasts that are behind what is in force, and the writing of many at once."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import String, and_, bindparam, or_, update
from sqlalchemy import cast as cast_sql
from sqlalchemy import select as select_columns
from sqlmodel import col, select

from api.storage.tables import Fitment, Forecast
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence
    from datetime import date

    from sqlmodel import Session


class Rests(NamedTuple):
    """What forecasts of a kind rest on in some circumstances: a model, and an interval table by its fingerprint."""

    circumstances: str
    model_id: str
    table: str


def circumstances_of(session: Session, fleet_id: str, kind: str) -> list[str]:
    """In which circumstances, beside the usual ones, forecasts of a kind stand."""
    found = select(Forecast.circumstances).where(
        Forecast.fleet_id == fleet_id, Forecast.kind == kind, Forecast.circumstances > ""
    )
    return sorted(session.exec(found.distinct()))


def vehicles_behind(
    session: Session, fleet_id: str, kind: str, *, rests: Sequence[Rests], limit: int
) -> list[str]:
    """Ids of some cars whose forecast for a part of this kind rests on something else than it should."""
    rightly = or_(
        *(
            and_(
                col(Forecast.circumstances) == one.circumstances,
                col(Forecast.model_id) == one.model_id,
                col(Forecast.coefficients)["table"].as_string() == one.table,
            )
            for one in rests
        )
    )
    up_to_date = (
        select(Forecast.id)
        .where(Forecast.fleet_id == fleet_id, Forecast.fitment_id == col(Fitment.id), rightly)
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
    circumstances: str = "",
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
        circumstances: in which their parts are.
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
        col(Forecast.circumstances) == circumstances,
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
