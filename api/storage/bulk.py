"""Many rows into one table at once, by the quickest way that each database offers."""

from __future__ import annotations

import json
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, Date, DateTime

from api.storage import dialect
from api.storage.types import UtcDateTime

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sqlalchemy import Column, Table
    from sqlalchemy.orm import Session


def insert_columns(session: Session, table: Table, columns: Mapping[str, Sequence[Any]]) -> None:
    """Insert rows given as columns, in the session's transaction; what the session holds is not touched.

    Values are of the types that the columns take: days as `date`, moments aware, no further defaults are filled in.

    Args:
        session: a session that writes.
        table: where to.
        columns: values by the name of their column, all of one length.

    Raises:
        sqlalchemy.exc.IntegrityError: a row meets a unique constraint, or refers to what is not there; no row is in.
    """
    names = list(columns)
    if not names or not len(columns[names[0]]):
        return
    if dialect.is_sqlite(session.connection()):
        plain = [_as_sqlite_keeps_it(table.c[name], columns[name]) for name in names]
        marks = ", ".join("?" * len(names))
        statement = f'INSERT INTO "{table.name}" ({_listed(names)}) VALUES ({marks})'  # noqa: S608 - names of our own columns
        session.connection().exec_driver_sql(statement, list(zip(*plain, strict=True)))
        return
    dialect.copy_in(
        session,
        f'COPY "{table.name}" ({_listed(names)}) FROM STDIN',
        zip(*[_as_postgresql_takes_it(table.c[name], columns[name]) for name in names], strict=True),
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def _as_sqlite_keeps_it(column: Column[Any], values: Sequence[Any]) -> Sequence[Any]:
    """The text that the column's type would have written; days and moments repeat, so each is turned once."""
    if isinstance(column.type, UtcDateTime | DateTime):
        return _each_once(values, lambda moment: moment.replace(tzinfo=None).strftime("%Y-%m-%d %H:%M:%S.%f"))
    if isinstance(column.type, Date):
        return _each_once(values, date.isoformat)
    if isinstance(column.type, JSON):
        return [None if value is None else json.dumps(value) for value in values]
    return values


def _as_postgresql_takes_it(column: Column[Any], values: Sequence[Any]) -> Sequence[Any]:
    return [None if v is None else json.dumps(v) for v in values] if isinstance(column.type, JSON) else values


def _each_once(values: Sequence[Any], turned: Any) -> list[Any]:
    known: dict[date | datetime | None, str | None] = {
        value: None if value is None else turned(value) for value in set(values)
    }
    return [known[value] for value in values]
