"""Queries for records that an import stages unseen, and for stored ones that it is to change."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, NamedTuple, cast

from sqlalchemy import CursorResult, bindparam, delete, func, update
from sqlalchemy import select as select_columns
from sqlmodel import col, select

from api.storage import bulk
from api.storage.hidden import let_see
from api.storage.tables import BulkImport, Fitment, ImportMatch, Removal, Vehicle
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from sqlmodel import Session

    from api.imports.fields import Kind

_AT_ONCE = 5_000
_LAST = 0xFFFFFFFF


def parents(session: Session, fleet_id: str, parent: str, refs: Collection[str]) -> dict[str, str]:
    """Ids of cars or fitments by another system's name for them, or by our own id."""
    table = Vehicle if parent == "vehicle" else Fitment
    found_: dict[str, str] = {}
    for column in (table.id, table.external_ref):
        wanted = select(column, table.id).where(table.fleet_id == fleet_id, col(column).in_(refs))
        found_ |= {str(name): id_ for name, id_ in session.exec(wanted)}
    return found_


def insert_records(session: Session, kind: Kind, columns: dict[str, list[Any]]) -> None:
    """Write staged rows; those of a chunk all or none.

    Raises:
        sqlalchemy.exc.IntegrityError: a reference is taken, or what a row belongs to is gone.
    """
    with session.begin_nested():
        bulk.insert_columns(session, table_of(kind), columns)


def table_of(kind: Kind) -> Any:
    """The bare table of a kind of record."""
    return kind.table.__table__  # type: ignore[attr-defined]  # SQLModel sets it on table classes


def records_named(
    session: Session, row: BulkImport, kind: Kind, refs: Collection[str]
) -> dict[str, dict[str, Any]]:
    """Stored and staged records by the reference that leads to them: their external one, or their id."""
    let_see(session, row.block)
    table: Any = kind.table
    found_: dict[str, dict[str, Any]] = {}
    for column in (table.id, table.external_ref):
        wanted = select(table).where(table.fleet_id == row.fleet_id, col(column).in_(refs))
        for record in session.exec(wanted.execution_options(populate_existing=True)):
            found_[str(getattr(record, column.key))] = record.model_dump()
    session.expunge_all()
    return found_


def removals_of(session: Session, row: BulkImport, fitment_ids: Collection[str]) -> dict[str, str]:
    """Removals that are stored or staged, by fitment."""
    let_see(session, row.block)
    wanted = select(Removal.fitment_id, Removal.id).where(
        Removal.fleet_id == row.fleet_id, col(Removal.fitment_id).in_(fitment_ids)
    )
    return dict(session.exec(wanted).all())


def matched(session: Session, row: BulkImport, record_ids: Collection[str]) -> dict[str, ImportMatch]:
    """Records that earlier rows of the file name."""
    wanted = select(ImportMatch).where(
        *_noted(row),
        col(ImportMatch.record_id).in_(record_ids),
    )
    return {match.record_id: match for match in session.exec(wanted)}


def keep_matches(
    session: Session, row: BulkImport, matches: Sequence[tuple[str, int, dict[str, Any] | None]]
) -> None:
    """Note stored records that rows of the file name, and what is to change in them."""
    columns: dict[str, list[Any]] = {
        "import_id": [row.id] * len(matches),
        "fleet_id": [row.fleet_id] * len(matches),
        "record_id": [match[0] for match in matches],
        "row_number": [match[1] for match in matches],
        "changes": [match[2] for match in matches],
        "applied": [False] * len(matches),
    }
    bulk.insert_columns(session, ImportMatch.__table__, columns)  # type: ignore[attr-defined]  # as above


def block_ends(row: BulkImport, first: int, last: int) -> tuple[str, str]:
    """First and last id of some rows of the file."""
    return f"{row.block}{first:08x}", f"{row.block}{last:08x}"


def drop_records(session: Session, row: BulkImport, kind: Kind, numbers: Collection[int]) -> int:
    """Take back what rows of some numbers staged or were to change; how many were to change something."""
    table = table_of(kind)
    ids = [f"{row.block}{number:08x}" for number in numbers]
    session.execute(delete(table).where(table.c.fleet_id == row.fleet_id, table.c.id.in_(ids)))
    matches = delete(ImportMatch).where(*_noted(row), col(ImportMatch.row_number).in_(numbers))
    return cast("CursorResult[Any]", session.execute(matches)).rowcount


def drop_some(session: Session, row: BulkImport, kind: Kind) -> int:
    """Delete some of the staged rows; how many."""
    table = table_of(kind)
    low, high = block_ends(row, 0, _LAST)
    own = (table.c.fleet_id == row.fleet_id, table.c.id >= low, table.c.id <= high)
    some = select_columns(table.c.id).where(*own).order_by(table.c.id).limit(_AT_ONCE)
    done = session.execute(delete(table).where(*own, table.c.id.in_(some)))
    return cast("CursorResult[Any]", done).rowcount


def drop_matches(session: Session, row: BulkImport) -> int:
    """Delete some of the notes about stored records; how many."""
    some = select_columns(col(ImportMatch.record_id)).where(*_noted(row)).limit(_AT_ONCE)
    statement = delete(ImportMatch).where(*_noted(row), col(ImportMatch.record_id).in_(some))
    done = session.execute(statement.execution_options(synchronize_session=False))
    return cast("CursorResult[Any]", done).rowcount


def cars_of(session: Session, row: BulkImport, kind: Kind, at_once: int) -> Iterator[list[str]]:
    """Cars that the staged and changed records are of, some at a time, in one pass; the session stays open meanwhile."""
    table: Any = kind.table
    low, high = block_ends(row, 0, _LAST)
    changed = select_columns(col(ImportMatch.record_id)).where(
        *_noted(row), col(ImportMatch.changes).is_not(None)
    )
    let_see(session, row.block)
    for chosen in ((table.id >= low, table.id <= high), (col(table.id).in_(changed),)):
        if kind.parent == "fitment":
            wanted = select_columns(col(Fitment.vehicle_id)).join(table, col(Fitment.id) == table.fitment_id)
        else:
            wanted = select_columns(table.vehicle_id if kind.parent else table.id)
        wanted = wanted.where(table.fleet_id == row.fleet_id, *chosen).distinct()
        for some in session.execute(wanted, execution_options={"yield_per": at_once}).partitions():
            yield [car for (car,) in some]


class Change(NamedTuple):
    """What a row of the file changes in a stored record."""

    record_id: str
    vehicle_id: str
    row_number: int
    columns: dict[str, Any]


def changes_of(session: Session, row: BulkImport, kind: Kind, vehicle_ids: Collection[str]) -> list[Change]:
    """What the file changes in records of some cars."""
    table: Any = kind.table
    car = {"vehicle": getattr(table, "vehicle_id", None), "fitment": Fitment.vehicle_id, None: table.id}[
        kind.parent
    ]
    wanted = select_columns(
        col(ImportMatch.record_id), col(car), col(ImportMatch.row_number), col(ImportMatch.changes)
    ).join(table, col(table.id) == col(ImportMatch.record_id))
    if kind.parent == "fitment":
        wanted = wanted.join(Fitment, col(Fitment.id) == table.fitment_id)
    wanted = wanted.where(
        *_noted(row),
        table.fleet_id == row.fleet_id,
        col(car).in_(vehicle_ids),
        col(ImportMatch.changes).is_not(None),
    )
    return [Change._make(found) for found in session.execute(wanted)]


def count_changes(session: Session, row: BulkImport, kind: Kind) -> int:
    """How many stored records are still to change."""
    changes = select(func.count()).select_from(ImportMatch).where(*_to_change(row))
    count = session.exec(changes).one()
    if kind.name == "removals":
        serving = select_columns(func.count()).select_from(Fitment.__table__).where(_still_serving(row))  # type: ignore[attr-defined]  # as above
        count += session.execute(serving).scalar_one()
    return count


def apply_changes(session: Session, row: BulkImport, kind: Kind, most: int) -> None:
    """Change stored records as the file says, so many of each sort at most."""
    chosen = select(ImportMatch).where(*_to_change(row)).order_by(col(ImportMatch.record_id)).limit(most)
    by_columns: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    matches = list(session.exec(chosen))
    for match in matches:
        changes = typed(kind, match.changes or {})
        by_columns.setdefault(tuple(changes), []).append({**changes, "its_id": match.record_id})
        match.applied = True
    table = table_of(kind)
    for names, rows in by_columns.items():
        changed = update(table).where(table.c.id == bindparam("its_id"), table.c.fleet_id == row.fleet_id)
        values: dict[str, Any] = {name: bindparam(name) for name in names}
        session.connection().execute(
            changed.values(**values, version=table.c.version + 1, updated_at=utc_now()), rows
        )
    if kind.name == "removals":
        _out_of_service(session, row, most)
    session.flush()


def typed(kind: Kind, values: dict[str, Any]) -> dict[str, Any]:
    """Changes in the types of their columns: days are kept as text."""
    table = table_of(kind)
    return {
        name: date.fromisoformat(value)
        if value is not None and table.c[name].type.python_type is date
        else value
        for name, value in values.items()
    }


def _noted(row: BulkImport) -> tuple[Any, ...]:
    return col(ImportMatch.import_id) == row.id, col(ImportMatch.fleet_id) == row.fleet_id


def _to_change(row: BulkImport) -> tuple[Any, ...]:
    return (
        *_noted(row),
        col(ImportMatch.changes).is_not(None),
        col(ImportMatch.applied).is_(False),
    )


def _still_serving(row: BulkImport) -> Any:
    """Fitments that a staged removal takes off."""
    fitment: Any = Fitment.__table__  # type: ignore[attr-defined]  # as above
    removal: Any = Removal.__table__  # type: ignore[attr-defined]  # as above
    low, high = block_ends(row, 0, _LAST)
    removed = select_columns(removal.c.fitment_id).where(
        removal.c.fleet_id == row.fleet_id, removal.c.id >= low, removal.c.id <= high
    )
    return (fitment.c.fleet_id == row.fleet_id) & fitment.c.in_service & fitment.c.id.in_(removed)


def _out_of_service(session: Session, row: BulkImport, most: int) -> None:
    fitment: Any = Fitment.__table__  # type: ignore[attr-defined]  # as above
    some = select_columns(fitment.c.id).where(_still_serving(row)).limit(most)
    session.connection().execute(
        update(fitment)
        .where(fitment.c.fleet_id == row.fleet_id, fitment.c.id.in_(some))
        .values(in_service=False, version=fitment.c.version + 1, updated_at=utc_now())
    )
