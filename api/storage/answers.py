"""Queries for answers kept under an Idempotency-Key."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import delete
from sqlmodel import col, select

from api.storage.tables import IdempotencyRecord

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session


def find(session: Session, fleet_id: str, key: str, now: datetime) -> IdempotencyRecord | None:
    """The answer kept under this key, if it has not lapsed; lapsed ones of the fleet are dropped."""
    session.execute(
        delete(IdempotencyRecord).where(
            col(IdempotencyRecord.fleet_id) == fleet_id, col(IdempotencyRecord.expires_at) <= now
        )
    )
    return session.exec(
        select(IdempotencyRecord).where(IdempotencyRecord.fleet_id == fleet_id, IdempotencyRecord.key == key)
    ).one_or_none()


def is_kept(session: Session, fleet_id: str, key: str, now: datetime) -> bool:
    """Whether something that has not lapsed is kept under this key; only reads."""
    found = select(IdempotencyRecord.id).where(
        IdempotencyRecord.fleet_id == fleet_id,
        IdempotencyRecord.key == key,
        col(IdempotencyRecord.expires_at) > now,
    )
    return session.exec(found).one_or_none() is not None


def keep(
    session: Session,
    *,
    fleet_id: str,
    key: str,
    fingerprint: str,
    status_code: int,
    headers: dict[str, str],
    body: str,
    expires_at: datetime,
) -> None:
    """Store an answer; the caller's transaction commits it with the work."""
    record = IdempotencyRecord(
        fleet_id=fleet_id,
        key=key,
        fingerprint=fingerprint,
        status_code=status_code,
        headers=headers,
        body=body,
        expires_at=expires_at,
    )
    session.add(record)
    session.flush()
