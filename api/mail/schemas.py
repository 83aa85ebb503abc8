"""Bodies and answers for addresses that get digests."""

from datetime import datetime
from typing import Annotated

from pydantic import Field

from api.schemas import Answer, Body, ExternalRef

MailAddress = Annotated[
    str,
    Field(
        max_length=254,
        pattern=r"^[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]+@[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?$",
        description="of a mailbox, in ASCII",
        examples=["keeper@garage.example"],
    ),
]
"""What HTML forms take as an address: no names, comments or quotes, so nothing can be slipped into a header."""


class SubscriptionCreate(Body):
    """An address that shall get the digest every week."""

    address: MailAddress
    weekday: int = Field(default=1, ge=1, le=7, description="ISO 8601: 1 is Monday")
    hour: int = Field(default=6, ge=0, le=23, description="of the day where the fleet is")
    external_ref: ExternalRef | None = None


class DeliveryOut(Answer):
    """One week's digest on its way; it arrives at least once, each time under the same Message-ID.

    Attributes:
        attempts: tries begun.
        problem: what went wrong with the last one, or that its end is not known; null: nothing.
        next_try_at: null once it is sent or refused for good.
    """

    week: str
    job_id: str | None
    attempts: int
    problem: str | None
    next_try_at: datetime | None
    sent_at: datetime | None


class SubscriptionOut(Answer):
    """An address that gets the digest every week.

    Attributes:
        hindrance: why nothing can be sent at present, in words; null where a mail server is set.
        latest: the latest delivery; null: none yet.
    """

    id: str
    address: str
    weekday: int
    hour: int
    external_ref: str | None
    created_at: datetime
    hindrance: str | None
    latest: DeliveryOut | None
