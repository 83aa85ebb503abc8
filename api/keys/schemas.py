"""How keys are asked for and shown; the key itself is shown once, when it is made."""

from datetime import datetime
from typing import Annotated

from pydantic import Field

from api.schemas import Answer, Body, ExternalRef, Note
from api.security import Scope


class KeyCreate(Body):
    """A key to be made for the fleet."""

    scope: Scope
    label: Annotated[Note, Field(max_length=200)] = ""
    days: Annotated[int, Field(ge=1, le=36500, description="days until it expires")] | None = None
    external_ref: ExternalRef | None = None


class KeyOut(Answer):
    """A key as listed: never the key itself."""

    id: str
    label: str
    prefix: str
    scope: Scope
    external_ref: str | None
    created_at: datetime
    expires_at: datetime | None
    last_used_at: datetime | None
    revoked_at: datetime | None


class KeyMade(KeyOut):
    """A key just made."""

    key: str = Field(description="shown this once and stored nowhere: keep it")
