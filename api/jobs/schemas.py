"""How a job is shown."""

from datetime import datetime
from typing import Any, Literal

from pydantic import Field

from api.schemas import Answer


class JobProgress(Answer):
    """How far a job is."""

    done: int
    total: int = Field(description="0: not known yet")
    doing: str


class JobOut(Answer):
    """Background work, as its fleet sees it."""

    id: str
    kind: str
    state: Literal["queued", "running", "succeeded", "failed", "cancelled"]
    progress: JobProgress
    result: dict[str, Any] | None = Field(description="what it gave, once succeeded")
    problem: dict[str, Any] | None = Field(description="an RFC 9457 problem, once failed")
    created_at: datetime
    started_at: datetime | None
    finished_at: datetime | None
