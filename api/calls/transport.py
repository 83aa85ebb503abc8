"""How the client talks: one request with its key, retries where they are safe, refusals raised as ProblemError."""

from __future__ import annotations

import email.utils
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, NamedTuple, Self
from uuid import uuid4

import httpx
import stamina

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

Json = dict[str, Any]
"""One JSON object, as the service's OpenAPI document describes it."""

_LOST = (httpx.NetworkError, httpx.TimeoutException, httpx.RemoteProtocolError)
_REPEATABLE = frozenset({"GET", "HEAD", "PUT", "POST"})
"""Methods whose request may be sent twice: POST carries an Idempotency-Key."""


@dataclass
class ProblemError(Exception):
    """The service refused: an RFC 9457 problem.

    Attributes:
        status: HTTP status.
        type: which problem, a URI reference.
        title: the problem in a few words.
        detail: what was wrong this time.
        errors: for malformed input, one mapping per fault: field, wanted, got.
        retry_after: seconds after which the service asks to be tried again; None where it does not ask.
    """

    status: int
    type: str
    title: str
    detail: str
    errors: list[Json] = field(default_factory=list)
    retry_after: float | None = None

    def __str__(self) -> str:
        faults = "; ".join(
            f"{e.get('field')}: wanted {e.get('wanted')}, got {e.get('got')}" for e in self.errors
        )
        return f"{self.status} {self.title}: {self.detail}" + (f" ({faults})" if faults else "")

    @classmethod
    def from_response(cls, response: httpx.Response) -> Self:
        """Read the problem out of a refusal; a body that is none still says its status and its first words."""
        try:
            body = response.json()
        except ValueError:
            body = {}
        if not isinstance(body, dict):
            body = {}
        return cls(
            status=response.status_code,
            type=str(body.get("type", "about:blank")),
            title=str(body.get("title", response.reason_phrase)),
            detail=str(body.get("detail", response.text[:200])),
            errors=list(body.get("errors") or []),
            retry_after=_retry_after(response.headers.get("Retry-After")),
        )


@dataclass(frozen=True)
class Retries:
    """How often and how long the client tries again.

    Attributes:
        attempts: tries in all, the first included.
        seconds: no further try after this long.
        first_wait: seconds before the second try; doubles from there, unless the service names its own time.
    """

    attempts: int = 6
    seconds: float = 45.0
    first_wait: float = 0.1


class Transport:
    """One connection pool to one service with one key."""

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout: float = 30.0,
        retries: Retries | None = None,
        proxies: bool = True,
    ) -> None:
        self._retries = retries or Retries()
        self._http = httpx.Client(
            base_url=base_url,
            timeout=timeout,
            trust_env=proxies,
            headers={"Authorization": f"Bearer {key}", "Accept": "application/json"},
        )

    def close(self) -> None:
        """Close the connections."""
        self._http.close()

    def send(
        self,
        method: str,
        path: str,
        *,
        body: Mapping[str, Any] | None = None,
        query: Mapping[str, Any] | None = None,
        headers: Mapping[str, str] | None = None,
        repeatable: bool = True,
    ) -> httpx.Response:
        """Send one request, again where that is safe and promises something.

        A POST carries an Idempotency-Key, so that it may be sent twice, unless `repeatable` is False.

        Raises:
            ProblemError: the service refused.
            httpx.TransportError: the service cannot be reached, after the last try.
        """
        sent = dict(headers or {})
        if method == "POST" and repeatable:
            sent.setdefault("Idempotency-Key", str(uuid4()))
        asked = {name: value for name, value in (query or {}).items() if value is not None}
        return self._tried(
            lambda: self._http.request(method, path, json=body, params=asked or None, headers=sent),
            twice=repeatable and method in _REPEATABLE,
        )

    def upload(self, path: str, opened: Callable[[], Iterator[bytes]]) -> httpx.Response:
        """PUT a body that comes in pieces; errors as of `send`.

        Args:
            path: where to.
            opened: gives the pieces from the start, once for every try.
        """
        media = {"Content-Type": "application/octet-stream"}
        return self._tried(
            lambda: self._http.request("PUT", path, content=opened(), headers=media), twice=True
        )

    def download(self, path: str, query: Mapping[str, Any] | None = None) -> Iterator[bytes]:
        """The body of an answer in pieces; what has begun is not tried again.

        Raises:
            ProblemError: the service refused.
            httpx.TransportError: the service cannot be reached, or went away in the middle.
        """
        with self._http.stream("GET", path, params=query) as response:
            if response.is_error:
                response.read()
                raise ProblemError.from_response(response)
            yield from response.iter_bytes()

    def _tried(self, ask: Callable[[], httpx.Response], *, twice: bool) -> httpx.Response:
        wait = self._retries
        for attempt in stamina.retry_context(
            on=lambda error: _worth_another_try(error, twice=twice),
            attempts=wait.attempts,
            timeout=wait.seconds,
            wait_initial=wait.first_wait,
            wait_jitter=wait.first_wait,
        ):
            with attempt:
                response = ask()
                if response.is_error:
                    raise ProblemError.from_response(response)
        return response

    def pages(self, path: str, query: Mapping[str, Any] | None = None) -> Iterator[Json]:
        """Every item of a list, page after page, along the Link header's rel="next" (RFC 8288)."""
        response = self.send("GET", path, query=query)
        while True:
            yield from response.json()["items"]
            onward = response.links.get("next", {}).get("url")
            if onward is None:
                return
            response = self.send("GET", onward)


class Tagged(NamedTuple):
    """A record and the ETag under which it may be changed."""

    body: Json
    etag: str


class Caller:
    """What every group of calls shares: a transport, and answers that must be objects."""

    def __init__(self, wire: Transport) -> None:
        self._wire = wire

    def _get(self, path: str, query: Mapping[str, Any] | None = None) -> Json:
        return self._object(self._wire.send("GET", path, query=query).json())

    def _post(self, path: str, body: Mapping[str, Any] | None) -> Json:
        return self._object(self._wire.send("POST", path, body=body).json())

    def _tagged(self, path: str) -> Tagged:
        response = self._wire.send("GET", path)
        return Tagged(self._object(response.json()), response.headers["ETag"])

    def _change(self, path: str, changes: Mapping[str, Any], etag: str) -> Tagged:
        response = self._wire.send("PATCH", path, body=changes, headers={"If-Match": etag})
        return Tagged(self._object(response.json()), response.headers["ETag"])

    def _take_away(self, path: str, etag: str | None) -> None:
        self._wire.send("DELETE", path, headers={"If-Match": etag} if etag is not None else None)

    @staticmethod
    def _object(answer: object) -> Json:
        if not isinstance(answer, dict):
            raise TypeError(
                f"the service answered with {type(answer).__name__}, not an object: is this wearwright?"
            )
        return answer


def _worth_another_try(error: Exception, *, twice: bool) -> bool | float:
    """Whether to try again, or after how many seconds; `twice` where the service may get the request twice."""
    if isinstance(error, httpx.ConnectError):
        return True
    if isinstance(error, _LOST):
        return twice
    if isinstance(error, ProblemError) and error.status in {409, 429, 503}:
        if error.retry_after is not None:
            return error.retry_after
        return error.status != 409
    return False


def _retry_after(header: str | None) -> float | None:
    """Seconds to wait: RFC 9110 allows seconds or a date."""
    if header is None:
        return None
    if header.strip().isdigit():
        return float(header)
    try:
        then = email.utils.parsedate_to_datetime(header)
    except ValueError:
        return None
    if then.tzinfo is None:
        then = then.replace(tzinfo=UTC)
    return max(0.0, (then - datetime.now(UTC)).total_seconds())
