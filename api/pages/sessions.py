"""The session cookie: whose key signed in and when, signed so that nobody can make one up; and tokens for forms.

The cookie holds no key, only the key's public prefix; whether that key still opens anything is asked at every
request, so revoking a key ends its sessions. Forms carry a token made from the session, so that no other site can
send one (double submit with a keyed hash: OWASP, Cross-Site Request Forgery Prevention Cheat Sheet).
"""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import json
import secrets
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

COOKIE = "wearwright_session"
PATH = "/pages"
GOOD_FOR_SECONDS = 14 * 86_400
"""A fortnight: a keeper looks in every few days, and a borrowed telephone does not stay signed in for a season."""

_OF_THIS_PROCESS = secrets.token_bytes(32)
"""Signs where no secret is configured; sessions then end with the process."""


@dataclass(frozen=True)
class Visit:
    """One browser's visit.

    Attributes:
        prefix: public part of the key that signed in; "" before anyone has.
        nonce: random, new at every sign-in.
        began: Unix time of the sign-in or of the first page.
    """

    prefix: str
    nonce: str
    began: int

    @classmethod
    def begin(cls, prefix: str = "") -> Visit:
        """A new visit; with the prefix of the key that signs in, or nobody's."""
        return cls(prefix, secrets.token_urlsafe(18), int(time.time()))


def visit_of(request: Request) -> Visit | None:
    """The visit that the cookie proves; None without one, or where it is forged, garbled or past its time."""
    content, _, signature = request.cookies.get(COOKIE, "").partition(".")
    wanted = _sign(request, "visit", content)
    if not content or not hmac.compare_digest(wanted.encode(), signature.encode()):
        return None
    try:
        found: dict[str, Any] = json.loads(base64.urlsafe_b64decode(content))
        visit = Visit(str(found["prefix"]), str(found["nonce"]), int(found["began"]))
    except (binascii.Error, KeyError, TypeError, ValueError):
        return None
    return visit if 0 <= time.time() - visit.began < GOOD_FOR_SECONDS else None


def remember(request: Request, response: Response, visit: Visit) -> None:
    """Set the cookie; over HTTPS it is for HTTPS only."""
    content = base64.urlsafe_b64encode(json.dumps(vars(visit)).encode()).decode()
    response.set_cookie(
        COOKIE,
        f"{content}.{_sign(request, 'visit', content)}",
        max_age=GOOD_FOR_SECONDS,
        path=PATH,
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


def forget(request: Request, response: Response) -> None:
    """Take the cookie back."""
    response.delete_cookie(
        COOKIE, path=PATH, secure=request.url.scheme == "https", httponly=True, samesite="lax"
    )


def form_token(request: Request, visit: Visit) -> str:
    """What every form of this visit carries."""
    return _sign(request, "form", visit.nonce)


def is_own_form(request: Request, visit: Visit | None, token: str) -> bool:
    """Whether a form was ours and of this visit."""
    return visit is not None and hmac.compare_digest(form_token(request, visit).encode(), token.encode())


def _sign(request: Request, purpose: str, content: str) -> str:
    configured = request.app.state.settings.session_secret
    secret = _OF_THIS_PROCESS if configured is None else configured.get_secret_value().encode()
    return hmac.new(secret, f"{purpose}:{content}".encode(), hashlib.sha256).hexdigest()
