"""Tables of who gets digests by mail, and of each delivery."""

from datetime import datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from api.storage.tables.base import Record, Row
from api.storage.types import UtcDateTime


class DigestSubscription(Record, table=True):
    """An address that gets the digest every week.

    Attributes:
        address: of the mail.
        weekday: ISO 8601, 1 is Monday.
        hour: of the day where the fleet is.
        last_week: ISO week of the latest delivery that was begun; None: none yet.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "address"), UniqueConstraint("fleet_id", "external_ref"))

    address: str
    weekday: int
    hour: int
    last_week: str | None = None


class DigestDelivery(Row, table=True):
    """One week's digest on its way to one address; kept until it is sent, and after.

    Attributes:
        week: ISO week.
        job_id: the job that tries, or tried last.
        attempts: how often it was tried.
        problem: what went wrong last; None: nothing yet, or it is sent.
        next_try_at: when it is tried again; None: it is sent, or refused for good.
        sent_at: when the mail server took it.
    """

    __table_args__ = (UniqueConstraint("subscription_id", "week"),)

    subscription_id: str = Field(foreign_key="digest_subscription.id", ondelete="CASCADE")
    week: str
    job_id: str | None = None
    attempts: int = 0
    problem: str | None = None
    next_try_at: datetime | None = Field(default=None, sa_type=UtcDateTime, index=True)
    sent_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
