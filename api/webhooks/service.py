"""Rules for webhooks: where they may lead, their secrets, switching them off and on, asking for a delivery again."""

from __future__ import annotations

import base64
import json
import secrets
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from api.external_refs import refuse_taken
from api.notices import due_soon
from api.problems import Conflict, Malformed, NotFound
from api.storage import dialect
from api.storage.tables import Webhook
from api.storage.types import utc_now
from api.webhooks import outbox, store
from api.webhooks.addresses import AddressError, outside, target_of
from api.webhooks.schemas import DeliveryListed, DeliveryOut, WebhookMade, WebhookOut

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from sqlmodel import Session

    from api.storage.tables import WebhookDelivery, WebhookEvent
    from api.webhooks.schemas import WebhookCreate, WebhookUpdate

SWITCHED_OFF, GONE, FAILING = "switched off", "gone", "failing"
_SECRET_BYTES = 32
MOST = 50
"""Webhooks of one fleet: every event is written once for each."""


def check_address(url: str, listed: Collection[str]) -> None:
    """Refuse an address that events may not go to; one that does not resolve at present is taken.

    Raises:
        Malformed: it is no address, or leads inside.
    """
    try:
        outside(target_of(url, listed))
    except AddressError as refused:
        raise Malformed("url", refused.wanted, url) from refused
    except (OSError, UnicodeError):
        return


def register(session: Session, fleet_id: str, body: WebhookCreate) -> Webhook:
    """Store a webhook with a secret of its own.

    Raises:
        Conflict: the ``external_ref`` is taken, or the fleet has very many already.
    """
    refuse_taken(session, Webhook, fleet_id, body.external_ref)
    _refuse_one_more(session, fleet_id)
    row = Webhook(fleet_id=fleet_id, secret=_new_secret(), **body.model_dump())
    with _from_now_on(session, fleet_id):
        session.add(row)
        session.flush()
    return row


def _refuse_one_more(session: Session, fleet_id: str, field: str | None = None) -> None:
    dialect.wait_for_turn(session, f"webhooks {fleet_id}")
    if len(store.enabled(session, fleet_id)) >= MOST:
        raise Conflict(f"this fleet has {MOST} webhooks that get events: switch one off first", field=field)


@contextmanager
def _from_now_on(session: Session, fleet_id: str) -> Iterator[None]:
    """Where the block brings the first one who wants to know what comes due: what is due already is not news."""
    before = outbox.wanted(session, fleet_id)
    yield
    if due_soon.KINDS & outbox.wanted(session, fleet_id) and not due_soon.KINDS & before:
        due_soon.begin(session, fleet_id)


def found(session: Session, fleet_id: str, webhook_id: str) -> Webhook:
    """One webhook of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.webhook(session, fleet_id, webhook_id)
    if row is None:
        raise NotFound(f"no webhook {webhook_id}")
    return row


def held(session: Session, fleet_id: str, webhook_id: str) -> Webhook:
    """The same, held until the transaction ends."""
    row = store.webhook_for_change(session, fleet_id, webhook_id)
    if row is None:
        raise NotFound(f"no webhook {webhook_id}")
    return row


def change(session: Session, row: Webhook, body: WebhookUpdate) -> None:
    """Change a webhook; switched on again it gets what happens from now on.

    Raises:
        Conflict: the ``external_ref`` is taken, or one more would be on than a fleet may have.
    """
    changes = body.changes
    enabled = changes.pop("enabled", row.disabled_at is None)
    if enabled and row.disabled_at is not None:
        _refuse_one_more(session, row.fleet_id, "enabled")
    refuse_taken(session, Webhook, row.fleet_id, body.external_ref, now=row.external_ref)
    with _from_now_on(session, row.fleet_id):
        row.sqlmodel_update(changes)
        if enabled:
            row.disabled_at = row.disabled_because = None
        else:
            disable(row, SWITCHED_OFF)
        session.add(row)
        session.flush()


def disable(row: Webhook, because: str) -> None:
    """Let a webhook get nothing any more; the first reason stays."""
    if row.disabled_at is None:
        row.disabled_at, row.disabled_because = utc_now(), because


def rotate(session: Session, row: Webhook, overlap: timedelta) -> None:
    """Give a webhook a new secret; the present one signs as well until the overlap ends."""
    now = utc_now()
    still = [one for one in row.older if datetime.fromisoformat(one["until"]) > now]
    if overlap:
        still = [{"secret": row.secret, "until": (now + overlap).isoformat()}, *still]
    row.secret, row.older = _new_secret(), still
    session.flush()


def secrets_of(row: Webhook, now: datetime) -> list[str]:
    """The secrets that sign at a moment, the newest first."""
    return [row.secret, *(one["secret"] for one in row.older if datetime.fromisoformat(one["until"]) > now)]


def ping(session: Session, row: Webhook) -> WebhookDelivery:
    """Write an event without news for one webhook.

    Raises:
        Conflict: it is disabled.
    """
    _refuse_disabled(row)
    return outbox.post(session, row.fleet_id, outbox.PING, {"webhook_id": row.id}, [row])[0]


def replay(session: Session, row: WebhookDelivery, webhook: Webhook) -> None:
    """Deliver an event again, or at once where it waits for its next try; the id stays.

    Raises:
        Conflict: the webhook is disabled.
    """
    _refuse_disabled(webhook)
    row.state, row.tries, row.problem = "waiting", 0, None
    outbox.queue(session, row)


def found_delivery(
    session: Session, fleet_id: str, webhook_id: str, delivery_id: str
) -> tuple[WebhookDelivery, Webhook, WebhookEvent]:
    """One delivery to one webhook of the fleet.

    Raises:
        NotFound: there is none of those ids in this fleet.
    """
    row = store.delivery(session, fleet_id, delivery_id)
    if row is None or row[1].id != webhook_id:
        raise NotFound(f"no delivery {delivery_id} of webhook {webhook_id}")
    return row


def shown(row: Webhook) -> WebhookOut:
    """A webhook as an answer shows it."""
    return WebhookOut.model_validate(_columns(row))


def shown_once(row: Webhook) -> WebhookMade:
    """The same with its secret."""
    return WebhookMade.model_validate({**_columns(row), "secret": row.secret})


def _columns(row: Webhook) -> dict[str, object]:
    now = utc_now()
    until = [moment for one in row.older if (moment := datetime.fromisoformat(one["until"])) > now]
    return {
        **row.model_dump(),
        "enabled": row.disabled_at is None,
        "old_secret_until": max(until, default=None),
    }


def listed(session: Session, fleet_id: str, rows: Sequence[WebhookDelivery]) -> list[DeliveryListed]:
    """Deliveries in a list."""
    events = store.events(session, fleet_id, {row.event_id for row in rows})
    return [
        DeliveryListed.model_validate({**row.model_dump(), "kind": events[row.event_id].kind}) for row in rows
    ]


def shown_delivery(row: WebhookDelivery, event: WebhookEvent) -> DeliveryOut:
    """A delivery with what it says."""
    return DeliveryOut.model_validate(
        {**row.model_dump(), "kind": event.kind, "body": json.loads(event.body)}
    )


def _refuse_disabled(row: Webhook) -> None:
    if row.disabled_at is not None:
        raise Conflict(f"the webhook gets nothing ({row.disabled_because}): enable it first", field="enabled")


def _new_secret() -> str:
    return "whsec_" + base64.b64encode(secrets.token_bytes(_SECRET_BYTES)).decode()
