"""Who looks at the pages: the session's key as a principal, with the fleet's name; and what a form sent."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Annotated, cast

from fastapi import Depends, Request

from api.keys import service as keys
from api.keys import store as key_store
from api.pages import sessions
from api.security import Principal, writer
from api.storage import answers
from api.storage.session import database_of, reading, writing
from api.storage.types import utc_now

if TYPE_CHECKING:
    from api.security import Scope
    from api.storage.tables import ApiKey, Fleet

MOST_FIELDS = 100


@dataclass(frozen=True)
class Visitor:
    """Somebody signed in.

    Attributes:
        who: the fleet and scope of the key.
        fleet_name: what the fleet is called.
        visit: the browser's visit.
    """

    who: Principal
    fleet_name: str
    visit: sessions.Visit

    @property
    def may_write(self) -> bool:
        """Whether the key may change records."""
        return self.who.scope != "read"


class SignInNeeded(Exception):  # noqa: N818 - an answer, not an error
    """Nobody is signed in, or the session is over."""


class StaleForm(Exception):  # noqa: N818 - an answer, not an error
    """A form from before this visit, or from somewhere else: it is shown again for the visitor to send."""


def visitor(request: Request) -> Visitor:
    """Whoever is signed in.

    Raises:
        SignInNeeded: nobody, or the session or its key is past its end.
        TooManyRequests: the key has used up its minute.
    """
    visit = sessions.visit_of(request)
    found = None if visit is None or not visit.prefix else _still_open(request, visit)
    if visit is None or found is None:
        raise SignInNeeded
    key, fleet = found
    request.app.state.rates.count(key.id)
    who = Principal(fleet.id, key.id, cast("Scope", key.scope), fleet.time_zone, fleet.currency)
    signed_in = Visitor(who, fleet.name, visit)
    request.state.visitor = signed_in
    return signed_in


def sign_in(request: Request, text: str) -> sessions.Visit | None:
    """Begin a visit with a key; None where the key opens nothing."""
    found = keys.open_with(database_of(request), text.strip())
    return None if found is None else sessions.Visit.begin(found[0].prefix)


def sign_out(request: Request) -> None:
    """End the visit for good: a copy of its cookie opens nothing from now on either."""
    visit = sessions.visit_of(request)
    found = None if visit is None or not visit.prefix else _still_open(request, visit)
    if visit is None or found is None:
        return
    ends = utc_now() + timedelta(seconds=sessions.GOOD_FOR_SECONDS)
    over = _over(visit)
    with writing(database_of(request)) as session:
        if answers.find(session, found[1].id, over, utc_now()) is None:
            answers.keep(
                session,
                fleet_id=found[1].id,
                key=over,
                fingerprint=over,
                status_code=303,
                headers={},
                body="",
                expires_at=ends,
            )


def _over(visit: sessions.Visit) -> str:
    """The name under which it is kept that a visit was ended."""
    return "signed out " + hashlib.sha256(visit.nonce.encode()).hexdigest()


def _still_open(request: Request, visit: sessions.Visit) -> tuple[ApiKey, Fleet] | None:
    with reading(database_of(request)) as session:
        found = key_store.key_with_prefix(session, visit.prefix)
        if found is not None and answers.is_kept(session, found[1].id, _over(visit), utc_now()):
            return None
    if found is None or found[0].revoked_at is not None:
        return None
    lapses = found[0].expires_at
    return None if lapses is not None and lapses <= utc_now() else found


async def sent_form(request: Request) -> Mapping[str, str]:
    """The fields of a sent form; of several with one name the last, files left out."""
    form = await request.form(max_fields=MOST_FIELDS, max_files=0)
    return {name: value for name, value in form.multi_items() if isinstance(value, str)}


Sent = Annotated[Mapping[str, str], Depends(sent_form)]


def own_form(request: Request, sent: Sent, found: Annotated[Visitor, Depends(visitor)]) -> Mapping[str, str]:
    """The fields of a form that this visit was given.

    Raises:
        StaleForm: its token is of another visit, or missing.
    """
    if not sessions.is_own_form(request, found.visit, sent.get("form_token", "")):
        raise StaleForm
    return sent


def _writing(found: Annotated[Visitor, Depends(visitor)]) -> Visitor:
    writer(found.who)
    return found


SignedIn = Annotated[Visitor, Depends(visitor)]
MayWrite = Annotated[Visitor, Depends(_writing)]
OwnForm = Annotated[Mapping[str, str], Depends(own_form)]
