"""Bodies and answers for webhooks and deliveries."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator

from api.schemas import Answer, Body, ExternalRef, Note
from api.webhooks.outbox import EventKind

State = Literal["waiting", "delivered", "given up", "dropped"]

Url = Annotated[
    str,
    Field(
        min_length=9,
        max_length=2000,
        pattern=r"^https?://[!-~]+$",
        description="https:// and a host of the public internet; events are posted there",
        examples=["https://hooks.garage.example/wearwright"],
    ),
]

Events = Annotated[
    list[EventKind],
    Field(min_length=1, max_length=20, description="what is told", json_schema_extra={"uniqueItems": True}),
]


def _without_twins(value: list[EventKind]) -> list[EventKind]:
    if len(set(value)) != len(value):
        raise ValueError("each kind of event once")
    return value


class WebhookCreate(Body):
    """An address that shall be told what happens."""

    url: Url
    events: Events
    label: Annotated[Note, Field(max_length=200)] = ""
    external_ref: ExternalRef | None = None

    _each_once = field_validator("events")(_without_twins)


class WebhookUpdate(Body):
    """Changes to a webhook: a field left out stays, null empties it where it may be empty."""

    url: Url = Field(default_factory=str)
    events: Events = Field(default_factory=list)
    label: Annotated[Note, Field(max_length=200)] = ""
    external_ref: ExternalRef | None = None
    enabled: bool = Field(default=True, description="true: it gets its events (again)")

    _each_once = field_validator("events")(_without_twins)

    @property
    def changes(self) -> dict[str, Any]:
        """The fields that the caller named, with their new values."""
        return self.model_dump(include=self.model_fields_set)


class Rotation(Body):
    """A new secret in the place of the present one."""

    overlap_hours: int = Field(
        default=24, ge=0, le=168, description="for how long the old secret signs as well, beside the new one"
    )


class WebhookOut(Answer):
    """A webhook as listed: never its secret.

    Attributes:
        disabled_because: "switched off", "gone" (it answered 410) or "failing" (nothing was taken for days).
        old_secret_until: until when a replaced secret signs as well; null: it does not.
    """

    id: str
    url: str
    events: list[EventKind]
    label: str
    external_ref: str | None
    enabled: bool
    disabled_at: datetime | None
    disabled_because: str | None
    old_secret_until: datetime | None
    succeeded_at: datetime | None
    created_at: datetime
    updated_at: datetime


class WebhookMade(WebhookOut):
    """A webhook just made, or with a new secret."""

    secret: str = Field(description="whsec_…: verifies the signatures; shown this once: keep it")


class DeliveryListed(Answer):
    """One event on its way to a webhook.

    Attributes:
        event_id: the `webhook-id` that it carries, the same at every try.
        status: HTTP status of the latest answer; null: there was none.
        next_try_at: null: not by itself.
    """

    id: str
    event_id: str
    kind: str
    state: State
    attempts: int
    status: int | None
    problem: str | None
    created_at: datetime
    next_try_at: datetime | None
    delivered_at: datetime | None


class DeliveryOut(DeliveryListed):
    """A delivery with what it says."""

    body: dict[str, Any] = Field(description="the event as it is posted")
