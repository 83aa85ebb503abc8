"""Storing what a form sent, once: a second press of the button finds what the first one stored."""

from __future__ import annotations

import hashlib
from datetime import timedelta
from typing import TYPE_CHECKING

from api.bridge.in_force.ready import Coming, ready_for_cars
from api.history.schemas import FitmentCreate
from api.storage import answers, dialect
from api.storage.session import database_of, writing
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fastapi import Request

    from api.pages.entries import Entry
    from api.security import Principal

_KEPT_FOR = timedelta(hours=24)
_ASCII = 200


def store(request: Request, who: Principal, place: str, entry: Entry, sent: Mapping[str, str]) -> str:
    """Store a form in one transaction; gives the address to go to afterwards.

    Raises:
        Whatever the JSON service's rule raises; nothing is stored then.
    """
    body = entry.form.body(sent)
    name = _name(who, request.url.path, sent)
    ready_for_cars(database_of(request), who.fleet_id, [place], _coming(place, body))
    with writing(database_of(request)) as session:
        if name is None:
            return entry.store(session, who, place, body)
        dialect.wait_for_turn(session, f"once {who.fleet_id} {name}")
        before = answers.find(session, who.fleet_id, name, utc_now())
        if before is not None:
            return str(before.headers["location"])
        address = entry.store(session, who, place, body)
        answers.keep(
            session,
            fleet_id=who.fleet_id,
            key=name,
            fingerprint=name,
            status_code=303,
            headers={"location": address},
            body="",
            expires_at=utc_now() + _KEPT_FOR,
        )
        return address


def _coming(place: str, body: object) -> Coming:
    """The part that the form fits to its car."""
    return Coming(fitting=(place, body.kind, body.grade)) if isinstance(body, FitmentCreate) else Coming()


def _name(who: Principal, path: str, sent: Mapping[str, str]) -> str | None:
    """Of this filling-in of this form by this key; None where the form carried none."""
    once = sent.get("once", "")
    if not once:
        return None
    return "form " + hashlib.sha256(f"{who.key_id}\n{path}\n{once[:_ASCII]}".encode()).hexdigest()
