"""Queries for fleets and their keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import update
from sqlmodel import col, or_, select

from api.storage.tables import ApiKey, Fleet

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session
    from sqlmodel.sql.expression import SelectOfScalar


def fleet_named(session: Session, name: str) -> Fleet | None:
    """The fleet of that name."""
    return session.exec(select(Fleet).where(Fleet.name == name)).one_or_none()


def key_with_prefix(session: Session, prefix: str) -> tuple[ApiKey, Fleet] | None:
    """The key whose public part is ``prefix``, with its fleet."""
    rows = (
        select(ApiKey, Fleet)
        .join(Fleet, col(Fleet.id) == col(ApiKey.fleet_id))
        .where(ApiKey.prefix == prefix)
    )
    return session.exec(rows).one_or_none()


def keys_of(fleet_id: str) -> SelectOfScalar[ApiKey]:
    """All keys of one fleet, oldest first, for paging."""
    return select(ApiKey).where(ApiKey.fleet_id == fleet_id).order_by(col(ApiKey.created_at), col(ApiKey.id))


def key(session: Session, fleet_id: str, key_id: str) -> ApiKey | None:
    """One key of one fleet."""
    return session.exec(select(ApiKey).where(ApiKey.fleet_id == fleet_id, ApiKey.id == key_id)).one_or_none()


def keys_with_fleets(session: Session, fleet_name: str | None) -> list[tuple[ApiKey, Fleet]]:
    """The keys of the fleet of one name, or of every fleet, oldest first: for whoever may open the database."""
    rows = select(ApiKey, Fleet).join(Fleet, col(Fleet.id) == col(ApiKey.fleet_id))
    if fleet_name is not None:
        rows = rows.where(Fleet.name == fleet_name)
    ordered = rows.order_by(col(Fleet.name), col(ApiKey.created_at), col(ApiKey.id))
    return [(key, fleet) for key, fleet in session.exec(ordered)]


def key_of_any_fleet(session: Session, key_id: str, prefix: str) -> ApiKey | None:
    """The key of an id or of a public part, whosever it is: for whoever may open the database."""
    rows = select(ApiKey).where(or_(col(ApiKey.id) == key_id, col(ApiKey.prefix) == prefix))
    return session.exec(rows).one_or_none()


def note_use(session: Session, key_id: str, moment: datetime) -> None:
    """Write when a key was last used, leaving its version and entity tag as they are."""
    session.execute(
        update(ApiKey)
        .where(col(ApiKey.id) == key_id)
        .values(last_used_at=moment, updated_at=ApiKey.updated_at)
        .execution_options(synchronize_session=False)
    )
