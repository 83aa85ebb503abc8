"""What an import has not shown yet is seen by nobody but that import: a condition on every query for records.

Rows of an import stand among all others, under ids that begin with the import's block. While the import is hidden,
this hook leaves them out of every SELECT of the ORM, joins and subqueries included, whoever wrote it. Statements on
bare tables (`__table__`) are not touched: only the import's own store writes those.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import event, func, or_, select
from sqlalchemy.orm import Session, with_loader_criteria
from sqlmodel import col

from api.storage import dialect
from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle
from api.storage.tables.imports import BLOCK_LENGTH, BulkImport, ImportTouch

if TYPE_CHECKING:
    from sqlalchemy.orm import ORMExecuteState
    from sqlalchemy.sql.base import ExecutableOption

RECORDS = (Vehicle, OdometerReading, Fitment, Inspection, Repair, Removal)
"""Every table that an import writes rows of."""

_SEES = "sees_block"


def install() -> None:
    """Hook into every session of this process, once."""
    if not event.contains(Session, "do_orm_execute", _leave_out_hidden):
        event.listen(Session, "do_orm_execute", _leave_out_hidden)


def let_see(session: Session, block: str) -> None:
    """Let this session see the hidden rows of one import as if they were shown."""
    session.info[_SEES] = _conditions(block)


def tell_imports(session: Session, fleet_id: str, vehicle_id: str) -> None:
    """Before a car's records change: let an import that is at work know, so that it looks at this car again.

    An import takes its turn alone before it looks, and again before it shows; so whoever changes records either has
    ended before, or knows of the import.
    """
    dialect.wait_for_turn(session, history_key(fleet_id), together=True)
    at_work = select(col(BulkImport.id)).where(
        col(BulkImport.fleet_id) == fleet_id, col(BulkImport.hidden), col(BulkImport.phase) != "open"
    )
    for import_id in session.execute(at_work).scalars().all():
        session.merge(ImportTouch(import_id=import_id, fleet_id=fleet_id, vehicle_id=vehicle_id))


def history_key(fleet_id: str) -> str:
    """What those take turns about who change a fleet's records."""
    return f"history {fleet_id}"


def _shown(record: Any, own: str | None = None) -> Any:
    block = func.substr(record.id, 1, BLOCK_LENGTH)
    shown = block.not_in(select(col(BulkImport.block)).where(col(BulkImport.hidden)))
    return shown if own is None else or_(shown, block == own)


def _shown_to_all(record: Any) -> Any:
    return _shown(record)


@cache
def _for_everybody() -> tuple[ExecutableOption, ...]:
    """The conditions as functions, which are looked into once: every query of every request passes here."""
    return tuple(
        with_loader_criteria(record, _shown_to_all, include_aliases=True, propagate_to_loaders=False)
        for record in RECORDS
    )


def _conditions(own: str) -> tuple[ExecutableOption, ...]:
    return tuple(
        with_loader_criteria(record, _shown(record, own), include_aliases=True) for record in RECORDS
    )


def _leave_out_hidden(state: ORMExecuteState) -> None:
    if state.is_select and not state.is_column_load:
        state.statement = state.statement.options(*(state.session.info.get(_SEES) or _for_everybody()))
