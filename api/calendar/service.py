"""Rules for calendar addresses: the secret opens the calendar, is shown once and stored hashed.

The secret has 256 random bits, so its SHA-256 is enough at rest: nobody guesses it.
"""

from __future__ import annotations

import hashlib
import secrets
from typing import TYPE_CHECKING

from api.calendar import store
from api.external_refs import refuse_taken
from api.problems import Conflict, NotFound
from api.storage.tables import CalendarAddress
from api.storage.types import utc_now
from api.vehicles.service import found as found_vehicle

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.calendar.schemas import CalendarCreate
    from api.storage.tables import Fleet


def make(session: Session, fleet_id: str, body: CalendarCreate) -> tuple[CalendarAddress, str]:
    """Make an address; gives its row and its secret.

    Raises:
        Conflict: there is no such car in the fleet, or the ``external_ref`` is taken.
    """
    if body.vehicle_id is not None:
        try:
            found_vehicle(session, fleet_id, body.vehicle_id)
        except NotFound as missing:
            raise Conflict("there is no such car in this fleet", field="vehicle_id") from missing
    refuse_taken(session, CalendarAddress, fleet_id, body.external_ref)
    secret = _new_secret()
    row = CalendarAddress(fleet_id=fleet_id, hash=_hash(secret), **body.model_dump())
    session.add(row)
    session.flush()
    return row, secret


def found(session: Session, fleet_id: str, calendar_id: str) -> CalendarAddress:
    """One address of the fleet.

    Raises:
        NotFound: there is none of that id in this fleet.
    """
    row = store.address(session, fleet_id, calendar_id)
    if row is None:
        raise NotFound(f"no calendar {calendar_id}")
    return row


def rotate(session: Session, row: CalendarAddress) -> str:
    """Replace the secret: the old address opens nothing from now on."""
    secret = _new_secret()
    row.hash, row.rotated_at = _hash(secret), utc_now()
    session.flush()
    return secret


def opened(session: Session, secret: str) -> tuple[CalendarAddress, Fleet]:
    """The address that a secret opens, and its fleet.

    Raises:
        NotFound: it opens nothing.
    """
    found = store.opened_by(session, _hash(secret))
    if found is None:
        raise NotFound("no calendar at this address")
    return found


def path_of(secret: str) -> str:
    """Where the calendar of a secret is read."""
    return f"/calendar/{secret}.ics"


def _new_secret() -> str:
    return secrets.token_urlsafe(32)


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
