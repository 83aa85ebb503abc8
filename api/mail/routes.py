"""HTTP for addresses that get digests by mail."""

from fastapi import APIRouter, Request, Response, status

from api.conventions import RecordsAsked, page_of
from api.mail import service, store
from api.mail.schemas import SubscriptionCreate, SubscriptionOut
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/digest-subscriptions", tags=["digests"], route_class=OnceRoute)


@router.post("", status_code=status.HTTP_201_CREATED)
def create_digest_subscription(
    body: SubscriptionCreate, who: Writer, session: WriteSession, request: Request, response: Response
) -> SubscriptionOut:
    """Have the digest sent to an address every week, at an hour where the fleet is."""
    row = service.subscribe(session, who, body)
    response.headers["Location"] = f"/v1/digest-subscriptions/{row.id}"
    return service.shown(session, row, request.app.state.settings)


@router.get("")
def list_digest_subscriptions(
    who: Reader, session: ReadSession, request: Request, asked: RecordsAsked
) -> Page[SubscriptionOut]:
    """The addresses that get the fleet's digest, each with its latest delivery."""
    rows = page_of(session, store.subscriptions_of(who.fleet_id), asked)
    return Page(items=[service.shown(session, row, request.app.state.settings) for row in rows])


@router.get("/{subscription_id}")
def read_digest_subscription(
    subscription_id: str, who: Reader, session: ReadSession, request: Request
) -> SubscriptionOut:
    """One address that gets the digest, with its latest delivery."""
    return service.shown(
        session, service.found(session, who.fleet_id, subscription_id), request.app.state.settings
    )


@router.delete("/{subscription_id}", status_code=status.HTTP_204_NO_CONTENT)
def delete_digest_subscription(subscription_id: str, who: Writer, session: WriteSession) -> None:
    """Send no digest to an address any more; what is still on its way to it is dropped."""
    session.delete(service.found(session, who.fleet_id, subscription_id))
