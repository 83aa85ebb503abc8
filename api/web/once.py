"""Idempotency-Key on POST: the repetition of a request gets the first one's answer and does nothing.

The answer is stored in the transaction of the work itself, so both stand or neither does, and a refusal stores
nothing. A twin that comes while the first is at work waits for it; past the lock timeout it is told to come back.
Routers take part with ``APIRouter(route_class=OnceRoute)``.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING, Any, cast

from fastapi.concurrency import run_in_threadpool
from fastapi.routing import APIRoute
from starlette.responses import Response

from api.problems import Malformed, TwinRunning
from api.security import principal_of
from api.storage import answers, dialect
from api.storage.types import utc_now

if TYPE_CHECKING:
    from collections.abc import Callable, Coroutine

    from sqlmodel import Session
    from starlette.requests import Request

    from api.security import Principal
    from api.storage.tables import IdempotencyRecord

_KEPT_HEADERS = ("location", "etag", "content-type", "link")
_HEADER = "Idempotency-Key"


class _AnsweredBefore(Exception):  # noqa: N818 - an answer, not an error
    def __init__(self, answer: Response) -> None:
        self.answer = answer
        super().__init__()


@dataclass(frozen=True)
class _Once:
    """One keyed request: whose it is, its key, and what it said."""

    who: Principal
    key: str
    fingerprint: str
    keep_for: timedelta

    def before(self, session: Session) -> None:
        """Wait for a twin; stop if the work is done already."""
        dialect.wait_for_turn(session, f"once {self.who.fleet_id} {self.key}")
        record = answers.find(session, self.who.fleet_id, self.key, utc_now())
        if record is None:
            return
        if record.fingerprint != self.fingerprint:
            raise Malformed(_HEADER, "a key of its own for another request", self.key)
        raise _AnsweredBefore(_again(record))

    def keep(self, session: Session, response: Response) -> None:
        """Store the answer beside the work."""
        headers = {name: response.headers[name] for name in _KEPT_HEADERS if name in response.headers}
        answers.keep(
            session,
            fleet_id=self.who.fleet_id,
            key=self.key,
            fingerprint=self.fingerprint,
            status_code=response.status_code,
            headers=headers,
            body=bytes(response.body).decode(),
            expires_at=utc_now() + self.keep_for,
        )


class OnceRoute(APIRoute):
    """A route whose POSTs may carry an Idempotency-Key."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The framework's handler, with the first answer kept and given again."""
        work = super().get_route_handler()

        async def handle(request: Request) -> Response:
            key = request.headers.get(_HEADER) if request.method == "POST" else None
            if key is None:
                return await work(request)
            return await _handle_once(request, key, work)

        return handle


async def _handle_once(
    request: Request, key: str, work: Callable[[Request], Coroutine[Any, Any, Response]]
) -> Response:
    who = await run_in_threadpool(principal_of, request)
    once = _Once(who, _checked(key), _fingerprint(who, request, await request.body()), _keep_for(request))
    request.state.before_work = once.before
    try:
        response = await work(request)
        session = getattr(request.state, "session", None)
        if session is not None:
            await run_in_threadpool(once.keep, session, response)
    except _AnsweredBefore as done:
        return done.answer
    except Exception as error:
        if dialect.is_lock_timeout(error):
            raise TwinRunning from error
        raise
    return response


def _checked(key: str) -> str:
    if not (1 <= len(key) <= 255 and key.isascii() and key.isprintable()):
        raise Malformed(_HEADER, "1 to 255 printable ASCII characters", key)
    return key


def _fingerprint(who: Principal, request: Request, body: bytes) -> str:
    """What was said, and by which key: another key never gets this one's answer."""
    digest = hashlib.sha256()
    for part in (who.key_id, request.method, request.url.path, request.url.query):
        digest.update(part.encode() + b"\n")
    digest.update(body)
    return digest.hexdigest()


def _keep_for(request: Request) -> timedelta:
    return timedelta(hours=cast("int", request.app.state.settings.idempotency_hours))


def _again(record: IdempotencyRecord) -> Response:
    headers = {**record.headers, "Idempotency-Replayed": "true"}
    return Response(record.body, status_code=record.status_code, headers=headers)
