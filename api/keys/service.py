"""Making keys and opening with them.

A key is ``ww_<prefix>_<secret>``: the prefix finds the row, the secret (256 random bits) proves the holder. Only the
secret's SHA-256 is stored. A slow password hash would add nothing: it protects guessable secrets, and nobody guesses
one of 2**256.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from api.external_refs import refuse_taken
from api.keys import store
from api.problems import Conflict, NotFound
from api.storage.session import reading, writing
from api.storage.tables import ApiKey, Fleet
from api.storage.types import utc_now

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.storage.engine import Database

_LEAD = "ww"
_USE_IS_NOTED_EVERY = timedelta(minutes=1)


@dataclass(frozen=True)
class NewKey:
    """A key just made; ``text`` is shown once and stored nowhere."""

    row: ApiKey
    text: str


def make_key(
    session: Session,
    fleet_id: str,
    scope: str,
    *,
    label: str = "",
    days: int | None = None,
    external_ref: str | None = None,
) -> NewKey:
    """Make a key for one fleet, good for some days or without end; the caller commits.

    Raises:
        Conflict: the ``external_ref`` is taken.
    """
    refuse_taken(session, ApiKey, fleet_id, external_ref)
    expires_at = None if days is None else utc_now() + timedelta(days=days)
    prefix = secrets.token_hex(6)
    secret = secrets.token_hex(32)
    row = ApiKey(
        fleet_id=fleet_id,
        label=label,
        prefix=prefix,
        hash=_hash(secret),
        scope=scope,
        expires_at=expires_at,
        external_ref=external_ref,
    )
    session.add(row)
    session.flush()
    return NewKey(row=row, text=f"{_LEAD}_{prefix}_{secret}")


def fleet_for(session: Session, name: str, *, time_zone: str | None, currency: str | None) -> Fleet:
    """The fleet of that name; made if there is none.

    Raises:
        Conflict: there is one, of another zone or currency than given.
    """
    told = {"time_zone": time_zone, "currency": currency}
    fleet = store.fleet_named(session, name)
    for field, value in told.items():
        if fleet is not None and value is not None and value != (known := getattr(fleet, field)):
            raise Conflict(
                f"{field}: the fleet {name!r} is there already, with {known}, and making a key leaves that as it is: "
                f'leave it out, or change it first with PATCH /v1/fleet and {{"{field}": "{value}"}}',
                field=field,
            )
    if fleet is None:
        fleet = Fleet(name=name)
        fleet.time_zone = time_zone or fleet.time_zone
        fleet.currency = currency or fleet.currency
    fleet.dated_on = fleet.dated_on or utc_now().astimezone(ZoneInfo(fleet.time_zone)).date()
    session.add(fleet)
    session.flush()
    return fleet


def found(session: Session, fleet_id: str, key_id: str) -> ApiKey:
    """One key of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.key(session, fleet_id, key_id)
    if row is None:
        raise NotFound(f"no key {key_id}")
    return row


def revoke(session: Session, row: ApiKey, *, by: str) -> None:
    """Revoke a key.

    Raises:
        Conflict: it is the key that asks, or it is revoked already.
    """
    if row.id == by:
        raise Conflict("a key does not revoke itself: use another admin key", field="key_id")
    if row.revoked_at is not None:
        raise Conflict("the key is revoked already", field="revoked_at")
    row.revoked_at = utc_now()
    session.flush()


def open_with(database: Database, text: str) -> tuple[ApiKey, Fleet] | None:
    """The key and fleet that this text opens; None when it opens nothing. Notes the use, to the minute."""
    lead, _, rest = text.partition("_")
    prefix, _, secret = rest.partition("_")
    if lead != _LEAD or not secret or not rest.isascii():
        return None
    with reading(database) as session:
        found = store.key_with_prefix(session, prefix)
    if found is None or not _opens(found[0], secret):
        return None
    _note_use(database, found[0])
    return found


def _opens(key: ApiKey, secret: str) -> bool:
    """Compare in constant time; then revocation and expiry."""
    same = hmac.compare_digest(key.hash, _hash(secret))
    lapsed = key.expires_at is not None and key.expires_at <= utc_now()
    return same and key.revoked_at is None and not lapsed


def _note_use(database: Database, key: ApiKey) -> None:
    now = utc_now()
    if key.last_used_at is not None and now - key.last_used_at < _USE_IS_NOTED_EVERY:
        return
    with writing(database) as session:
        store.note_use(session, key.id, now)


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
