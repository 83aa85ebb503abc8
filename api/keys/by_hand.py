"""Keys managed on the database itself, by whoever may open it: listed, changed for new ones, revoked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.keys import service, store
from api.keys.schemas import KeyOut
from api.problems import Conflict, NotFound
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlmodel import Session

    from api.keys.service import NewKey
    from api.storage.tables import ApiKey


def listed(session: Session, fleet_name: str | None) -> Iterator[dict[str, object]]:
    """The keys of one fleet or of all, oldest first, each with its fleet's name; never the keys themselves.

    Raises:
        NotFound: no fleet has that name.
    """
    if fleet_name is not None and store.fleet_named(session, fleet_name) is None:
        raise NotFound(f"no fleet is called {fleet_name!r}")
    for row, fleet in store.keys_with_fleets(session, fleet_name):
        yield {"fleet": fleet.name, **KeyOut.model_validate(row).model_dump(mode="json")}


def revoke(session: Session, named: str) -> ApiKey:
    """Make a key open nothing from now on; the caller commits.

    Raises:
        NotFound: no key has that id or public part.
        Conflict: it is revoked already.
    """
    row = _found(session, named)
    service.revoke(session, row, by="")
    return row


def rotate(session: Session, named: str) -> NewKey:
    """A new key with the old one's fleet, scope, label and end, and the old one revoked: both or neither.

    Raises:
        NotFound: no key has that id or public part.
        Conflict: the key opens nothing any more, so there is nothing to hand on.
    """
    row = _found(session, named)
    if row.expires_at is not None and row.expires_at <= utc_now():
        raise Conflict("the key is past its end: make a new one with `wearwright keys create`", field="key")
    service.revoke(session, row, by="")
    made = service.make_key(session, row.fleet_id, row.scope, label=row.label)
    made.row.expires_at = row.expires_at
    session.flush()
    return made


def _found(session: Session, named: str) -> ApiKey:
    """The key of an id, or of the public part that stands in the key after "ww_"."""
    public = named.removeprefix("ww_").partition("_")[0]
    row = store.key_of_any_fleet(session, named, public)
    if row is None:
        raise NotFound("no key has that id or prefix: see `wearwright keys list`")
    return row
