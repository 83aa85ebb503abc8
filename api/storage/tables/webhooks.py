"""Tables of webhooks: where events go, the events, each delivery, and which parts were last told as due soon."""

from datetime import date, datetime

from sqlalchemy import JSON, Index, UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record, Row
from api.storage.types import UtcDateTime


class Webhook(Record, table=True):
    """An address of another system that is told what happens.

    Attributes:
        url: where events are posted.
        events: kinds of events that it wants.
        label: what the keeper calls it.
        secret: signs the events; it must be at hand to sign, so it is stored as it is, and shown only when it is made.
        older: secrets that were replaced and still sign: list of {"secret", "until"}.
        disabled_at, disabled_because: it gets nothing from then on; None: it gets its events.
        succeeded_at: when it last took an event.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "external_ref"),)

    url: str
    events: list[str] = Field(sa_type=JSON)
    label: str = ""
    secret: str
    older: list[dict[str, str]] = Field(default_factory=list, sa_type=JSON)
    disabled_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    disabled_because: str | None = None
    succeeded_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class WebhookEvent(Row, table=True):
    """Something that happened, as it is posted; its id is the ``webhook-id`` of every delivery.

    Attributes:
        kind: "due_soon.entered", "schedule.changed" ...
        body: the text that is signed and posted, to the byte.
    """

    __table_args__ = (Index("ix_webhook_event_created_at", "created_at"),)

    kind: str
    body: str


class WebhookDelivery(Row, table=True):
    """One event on its way to one address.

    Attributes:
        state: "waiting", "delivered", "given up" or "dropped" (the webhook was disabled).
        job_id: the job that tries, or tried last.
        attempts: how often it was tried.
        tries: the same, since it was last asked for: it begins anew with a replay.
        status: HTTP status of the latest try's answer; None: no answer.
        problem: what went wrong last; None: nothing yet, or it is delivered.
        next_try_at: when it is tried again; None: not by itself.
        delivered_at: when the other side took it.
    """

    __table_args__ = (
        UniqueConstraint("webhook_id", "event_id"),
        Index("ix_webhook_delivery_webhook_id_created_at_id", "webhook_id", "created_at", "id"),
    )

    webhook_id: str = Field(foreign_key="webhook.id", ondelete="CASCADE")
    event_id: str = Field(foreign_key="webhook_event.id", ondelete="CASCADE", index=True)
    state: str = "waiting"
    job_id: str | None = None
    attempts: int = 0
    tries: int = 0
    status: int | None = None
    problem: str | None = None
    next_try_at: datetime | None = Field(default=None, sa_type=UtcDateTime, index=True)
    delivered_at: datetime | None = Field(default=None, sa_type=UtcDateTime)


class DueSoonTold(Row, table=True):
    """A part that was told as due soon, as it was then; its id is the fitment's, which may be gone by now.

    Attributes:
        vehicle_name, vehicle_external_ref, fitment_external_ref, kind, position: of car and part.
        due_likely: its likely day.
    """

    __table_args__ = (Index("ix_due_soon_told_fleet_id_vehicle_id", "fleet_id", "vehicle_id"),)

    vehicle_id: str
    vehicle_name: str
    vehicle_external_ref: str | None = None
    fitment_external_ref: str | None = None
    kind: str
    position: str
    due_likely: date
