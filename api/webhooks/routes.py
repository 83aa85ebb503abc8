"""HTTP for webhooks: addresses that are told what happens, their secrets, what was delivered."""

from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Header, Query, Request, Response, status

from api.conventions import (
    IfMatch,
    IfNoneMatch,
    PageAsked,
    RecordsAsked,
    page_of,
    require_match,
    send_tag,
    unless_held,
)
from api.jobs import service as job_service
from api.jobs.schemas import JobOut
from api.problems import Malformed
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute
from api.webhooks import service, store
from api.webhooks.schemas import (
    DeliveryListed,
    DeliveryOut,
    Rotation,
    State,
    WebhookCreate,
    WebhookMade,
    WebhookOut,
    WebhookUpdate,
)

router = APIRouter(prefix="/v1/webhooks", tags=["webhooks"], route_class=OnceRoute)

NoRepetition = Annotated[str | None, Header(alias="Idempotency-Key", include_in_schema=False)]


@router.post("", status_code=status.HTTP_201_CREATED)
def create_webhook(
    body: WebhookCreate,
    who: Writer,
    session: WriteSession,
    request: Request,
    response: Response,
    idempotency_key: NoRepetition = None,
) -> WebhookMade:
    """Have an address told what happens; the answer is the only time that its secret is shown.

    Events are posted by the Standard Webhooks specification, at least once each, in no promised order. Due-soon
    events tell what changes from now on; what is due now is at `/v1/due-soon`.
    """
    _not_kept(idempotency_key)
    service.check_address(body.url, request.app.state.settings.webhook_hosts)
    row = service.register(session, who.fleet_id, body)
    response.headers["Location"] = f"/v1/webhooks/{row.id}"
    send_tag(response, row)
    return service.shown_once(row)


@router.get("")
def list_webhooks(who: Reader, session: ReadSession, asked: RecordsAsked) -> Page[WebhookOut]:
    """The fleet's webhooks, without their secrets, oldest first."""
    return Page(
        items=[service.shown(row) for row in page_of(session, store.webhooks_of(who.fleet_id), asked)]
    )


@router.get("/{webhook_id}")
def read_webhook(
    webhook_id: str, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> WebhookOut:
    """One webhook, without its secret."""
    row = service.found(session, who.fleet_id, webhook_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return service.shown(row)


@router.patch("/{webhook_id}")
def update_webhook(
    webhook_id: str,
    body: WebhookUpdate,
    who: Writer,
    session: WriteSession,
    request: Request,
    response: Response,
    if_match: IfMatch = None,
) -> WebhookOut:
    """Change a webhook, or switch it off and on: a field left out stays. Needs If-Match."""
    if "url" in body.changes:
        service.check_address(body.url, request.app.state.settings.webhook_hosts)
    row = service.held(session, who.fleet_id, webhook_id)
    require_match(if_match, row)
    service.change(session, row, body)
    send_tag(response, row)
    return service.shown(row)


@router.delete("/{webhook_id}", status_code=status.HTTP_204_NO_CONTENT)
def delete_webhook(webhook_id: str, who: Writer, session: WriteSession, if_match: IfMatch = None) -> None:
    """Take a webhook away with its deliveries; If-Match is heeded where it is sent."""
    row = service.held(session, who.fleet_id, webhook_id)
    if if_match is not None:
        require_match(if_match, row)
    session.delete(row)


@router.post("/{webhook_id}/rotation")
def rotate_webhook(
    webhook_id: str,
    body: Rotation,
    who: Writer,
    session: WriteSession,
    response: Response,
    idempotency_key: NoRepetition = None,
) -> WebhookMade:
    """Give a webhook a new secret, shown this once; for some hours the old one signs as well."""
    _not_kept(idempotency_key)
    row = service.held(session, who.fleet_id, webhook_id)
    service.rotate(session, row, timedelta(hours=body.overlap_hours))
    send_tag(response, row)
    return service.shown_once(row)


@router.post("/{webhook_id}/ping", status_code=status.HTTP_202_ACCEPTED)
def ping_webhook(webhook_id: str, who: Writer, session: WriteSession, response: Response) -> JobOut:
    """Send a webhook an event without news, to see whether it arrives."""
    row = service.ping(session, service.held(session, who.fleet_id, webhook_id))
    return _delivering(session, response, who.fleet_id, row.job_id)


@router.get("/{webhook_id}/deliveries")
def list_deliveries(
    webhook_id: str,
    who: Reader,
    session: ReadSession,
    asked: PageAsked,
    state: Annotated[State | None, Query(description="only those in this state")] = None,
) -> Page[DeliveryListed]:
    """What a webhook was sent, or is still to get, latest first; kept for 30 days."""
    service.found(session, who.fleet_id, webhook_id)
    rows = page_of(session, store.deliveries_of(who.fleet_id, webhook_id, state), asked)
    return Page(items=service.listed(session, who.fleet_id, rows))


@router.get("/{webhook_id}/deliveries/{delivery_id}")
def read_delivery(
    webhook_id: str,
    delivery_id: str,
    who: Reader,
    session: ReadSession,
    response: Response,
    if_none_match: IfNoneMatch = None,
) -> DeliveryOut:
    """One delivery with what it says."""
    row, _, event = service.found_delivery(session, who.fleet_id, webhook_id, delivery_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return service.shown_delivery(row, event)


@router.post("/{webhook_id}/deliveries/{delivery_id}/replay", status_code=status.HTTP_202_ACCEPTED)
def replay_delivery(
    webhook_id: str, delivery_id: str, who: Writer, session: WriteSession, response: Response
) -> JobOut:
    """Deliver an event again, or at once where it waits for its next try; its id stays the same."""
    row, webhook, _ = service.found_delivery(session, who.fleet_id, webhook_id, delivery_id)
    service.replay(session, row, webhook)
    return _delivering(session, response, who.fleet_id, row.job_id)


def _delivering(session: WriteSession, response: Response, fleet_id: str, job_id: str | None) -> JobOut:
    job = job_service.found(session, fleet_id, str(job_id))
    response.headers["Location"] = f"/v1/jobs/{job.id}"
    return job_service.shown(job)


def _not_kept(idempotency_key: str | None) -> None:
    if idempotency_key is not None:
        raise Malformed(
            "Idempotency-Key", "no such header here: a secret is shown once and never again", idempotency_key
        )
