"""Who asks: a key in the Authorization header becomes a fleet and a scope.

Scopes nest: admin may all, write may read. Routes take ``Reader``, ``Writer`` or ``Admin``:

    def read_vehicle(vehicle_id: str, who: Reader, session: ReadSession) -> VehicleOut: ...
"""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal, cast

from fastapi import Depends, Request, Security
from fastapi.security import HTTPBearer

from api.fleets.today import today_in
from api.keys import service
from api.problems import Forbidden, Unauthorised
from api.storage.session import database_of

Scope = Literal["read", "write", "admin"]

_RANK: dict[str, int] = {"read": 0, "write": 1, "admin": 2}
_bearer = HTTPBearer(auto_error=False, scheme_name="key", bearerFormat="ww_<prefix>_<secret>")


@dataclass(frozen=True)
class Principal:
    """Whoever holds the key.

    Attributes:
        fleet_id: the one fleet that the key opens.
        key_id: the key's row.
        scope: "read", "write" or "admin".
        time_zone: IANA name of the fleet's zone: "today" is today there.
        currency: ISO 4217 code of the fleet's money.
    """

    fleet_id: str
    key_id: str
    scope: Scope
    time_zone: str
    currency: str

    def today(self) -> date:
        """The calendar day it is now where the fleet is."""
        return today_in(self.time_zone)


def principal_of(request: Request) -> Principal:
    """Find whoever holds the key in the Authorization header; once per request.

    Raises:
        Unauthorised: no key, or it is unknown, revoked or past its expiry.
        TooManyRequests: the key has used up its minute.
    """
    known: Principal | None = getattr(request.state, "principal", None)
    if known is not None:
        return known
    lead, _, token = request.headers.get("Authorization", "").partition(" ")
    found = service.open_with(database_of(request), token.strip()) if lead.lower() == "bearer" else None
    if found is None:
        raise Unauthorised
    key, fleet = found
    request.app.state.rates.count(key.id)
    who = Principal(fleet.id, key.id, cast("Scope", key.scope), fleet.time_zone, fleet.currency)
    request.state.principal = who
    return who


def _principal(request: Request, _shown_in_openapi: Annotated[object, Security(_bearer)]) -> Principal:
    return principal_of(request)


_Anyone = Annotated[Principal, Depends(_principal)]


def reader(who: _Anyone) -> Principal:
    """Any good key."""
    return _at_least(who, "read")


def writer(who: _Anyone) -> Principal:
    """A key that may change records.

    Raises:
        Forbidden: the key may only read.
    """
    return _at_least(who, "write")


def admin(who: _Anyone) -> Principal:
    """A key that may make and revoke keys.

    Raises:
        Forbidden: the key may not.
    """
    return _at_least(who, "admin")


def _at_least(who: Principal, scope: Scope) -> Principal:
    if _RANK[who.scope] < _RANK[scope]:
        raise Forbidden(f"this needs scope {scope}; the key has {who.scope}")
    return who


Reader = Annotated[Principal, Depends(reader)]
Writer = Annotated[Principal, Depends(writer)]
Admin = Annotated[Principal, Depends(admin)]
