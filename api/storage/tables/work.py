"""Tables of work in hand: jobs, workers, and answers kept for repeated requests."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Row, Table
from api.storage.types import UtcDateTime, utc_now


class Job(Row, table=True):
    """Background work as its fleet sees it; the queue's own rows are kept elsewhere under the same id.

    Attributes:
        state: "queued", "running", "succeeded", "failed" or "cancelled".
        done, total, doing: progress; total 0: not known yet.
        payload: what the work needs.
        result: what it gave, once succeeded.
        problem: an RFC 9457 problem, once failed.
        cancel_asked_at: when somebody asked it to stop.
        attempt: how often it was begun; only the latest attempt may write its end.
        worker_id: the process that has it.
    """

    __table_args__ = (
        Index("ix_job_fleet_id_created_at_id", "fleet_id", "created_at", "id"),
        Index("ix_job_state_created_at", "state", "created_at"),
    )

    kind: str
    state: str = "queued"
    done: int = 0
    total: int = 0
    doing: str = ""
    payload: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    result: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    problem: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    started_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    finished_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    cancel_asked_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    attempt: int = 0
    worker_id: str | None = None


class Worker(Table, table=True):
    """A process that runs jobs, and when it was last heard of; the one table that belongs to no fleet."""

    id: str = Field(primary_key=True)
    application_version: str
    started_at: datetime = Field(default_factory=utc_now, sa_type=UtcDateTime, nullable=False)
    last_seen_at: datetime = Field(default_factory=utc_now, sa_type=UtcDateTime, nullable=False)


class IdempotencyRecord(Row, table=True):
    """The answer to a POST that carried an Idempotency-Key, kept so that its repetition gets the same one.

    Attributes:
        key: the header's value.
        fingerprint: SHA-256 over method, path, query and body; another one under the same key is refused.
        status_code, headers, body: the answer; status 0 until it is known (only inside the transaction).
    """

    __table_args__ = (UniqueConstraint("fleet_id", "key"),)

    key: str
    fingerprint: str
    status_code: int = 0
    headers: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    body: str = ""
    expires_at: datetime = Field(sa_type=UtcDateTime)
