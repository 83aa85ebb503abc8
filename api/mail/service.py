"""Rules for addresses that get digests: one subscription per address, and when the next mail goes out."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from api.digests.content import week_of
from api.external_refs import refuse_taken
from api.mail import store
from api.mail.post import hindrance
from api.mail.schemas import DeliveryOut, SubscriptionOut
from api.problems import Conflict, NotFound
from api.storage.tables import DigestSubscription
from api.storage.types import utc_now

if TYPE_CHECKING:
    from datetime import datetime

    from sqlmodel import Session

    from api.mail.schemas import SubscriptionCreate
    from api.security import Principal
    from api.settings import Settings

MOST_LISTED = 50
"""Addresses on the digests' page; nobody reads more."""


def subscribe(session: Session, who: Principal, body: SubscriptionCreate) -> DigestSubscription:
    """Add an address; its first digest goes out when its hour next comes.

    Raises:
        Conflict: the address gets the digest already, or the ``external_ref`` is taken.
    """
    if store.of_address(session, who.fleet_id, body.address) is not None:
        raise Conflict("this address gets the digest already", field="address")
    refuse_taken(session, DigestSubscription, who.fleet_id, body.external_ref)
    row = DigestSubscription(fleet_id=who.fleet_id, **body.model_dump())
    row.last_week = week_begun(row, who.time_zone, utc_now())
    session.add(row)
    session.flush()
    return row


def week_begun(row: DigestSubscription, time_zone: str, now: datetime) -> str | None:
    """The ISO week whose digest is to be sent by now, where the fleet is; None: its hour has not come this week."""
    here = now.astimezone(ZoneInfo(time_zone))
    come = (here.isoweekday(), here.hour) >= (row.weekday, row.hour)
    return week_of(here.date()) if come else None


def found(session: Session, fleet_id: str, subscription_id: str) -> DigestSubscription:
    """One address of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.subscription(session, fleet_id, subscription_id)
    if row is None:
        raise NotFound(f"no digest subscription {subscription_id}")
    return row


def listed(session: Session, who: Principal, settings: Settings) -> list[SubscriptionOut]:
    """The first addresses of the fleet with how their latest delivery went."""
    rows = session.exec(store.subscriptions_of(who.fleet_id).limit(MOST_LISTED))
    return [shown(session, row, settings) for row in rows]


def shown(session: Session, row: DigestSubscription, settings: Settings) -> SubscriptionOut:
    """An address with its latest delivery."""
    latest = store.latest(session, row.id)
    return SubscriptionOut.model_validate(
        {
            **row.model_dump(include={"id", "address", "weekday", "hour", "external_ref", "created_at"}),
            "hindrance": hindrance(settings),
            "latest": None if latest is None else DeliveryOut.model_validate(latest),
        }
    )
