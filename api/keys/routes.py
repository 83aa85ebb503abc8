"""HTTP for keys."""

from typing import Annotated

from fastapi import APIRouter, Header, Response, status

from api.conventions import IfMatch, IfNoneMatch, RecordsAsked, page_of, require_match, send_tag, unless_held
from api.keys import service, store
from api.keys.schemas import KeyCreate, KeyMade, KeyOut
from api.problems import Malformed
from api.schemas import Page
from api.security import Admin
from api.storage.session import ReadSession, WriteSession

router = APIRouter(prefix="/v1/keys", tags=["keys"])


@router.post("", status_code=status.HTTP_201_CREATED, operation_id="create_key")
def create_key(
    body: KeyCreate,
    who: Admin,
    session: WriteSession,
    response: Response,
    idempotency_key: Annotated[str | None, Header(include_in_schema=False)] = None,
) -> KeyMade:
    """Make a key for the fleet; the answer is the only time that it is shown."""
    if idempotency_key is not None:
        raise Malformed(
            "Idempotency-Key", "no such header here: a key is shown once and never again", idempotency_key
        )
    made = service.make_key(session, who.fleet_id, **body.model_dump())
    response.headers["Location"] = f"/v1/keys/{made.row.id}"
    send_tag(response, made.row)
    return KeyMade.model_validate({**made.row.model_dump(), "key": made.text})


@router.get("", operation_id="list_keys")
def list_keys(who: Admin, session: ReadSession, asked: RecordsAsked) -> Page[KeyOut]:
    """The fleet's keys, revoked ones too, oldest first."""
    rows = page_of(session, store.keys_of(who.fleet_id), asked)
    return Page(items=[KeyOut.model_validate(row) for row in rows])


@router.get("/{key_id}", operation_id="read_key")
def read_key(
    key_id: str, who: Admin, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> KeyOut:
    """One key."""
    row = service.found(session, who.fleet_id, key_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return KeyOut.model_validate(row)


@router.delete("/{key_id}", status_code=status.HTTP_204_NO_CONTENT, operation_id="revoke_key")
def revoke_key(key_id: str, who: Admin, session: WriteSession, if_match: IfMatch = None) -> None:
    """Revoke a key: it opens nothing from now on, and stays listed. Needs If-Match."""
    row = service.found(session, who.fleet_id, key_id)
    require_match(if_match, row)
    service.revoke(session, row, by=who.key_id)
