"""Posting one event: to a checked address by its number, with the name kept for TLS and Host, bounded in time.

Redirects are not followed, proxies of the environment are not used, and of the answer only status and headers are
read: nothing of what an inside service might say comes back to whoever registered the address.
"""

from __future__ import annotations

import asyncio
import socket
import ssl
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from functools import lru_cache
from importlib import metadata
from typing import TYPE_CHECKING

import httpx
from standardwebhooks import Webhook as Signer

from api.webhooks.addresses import AddressError, outside, target_of

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

WHOLE_SECONDS = 15.0
"""How long one try may take, from the look-up of the name to the end of the answer's headers."""

_CONNECT_SECONDS = 5.0
_LONGEST_WAIT = 86_400.0


@dataclass(frozen=True)
class Message:
    """An event as it is posted.

    Attributes:
        id: the same for every try of every delivery of the event.
        body: JSON text.
        secrets: the newest first; each signs.
    """

    id: str
    body: str
    secrets: Sequence[str]

    def headers(self, now: datetime) -> dict[str, str]:
        """Signed headers for a try at a moment (UTC: the library takes any other zone for UTC)."""
        now = now.astimezone(UTC)
        signatures = [Signer(secret).sign(self.id, now, self.body) for secret in self.secrets]
        return {
            "content-type": "application/json",
            "user-agent": f"wearwright/{metadata.version('wearwright')}",
            "webhook-id": self.id,
            "webhook-timestamp": str(int(now.timestamp())),
            "webhook-signature": " ".join(signatures),
        }


@dataclass(frozen=True)
class Outcome:
    """How one try went.

    Attributes:
        status: of the answer; None: there was none.
        problem: in words; None: the other side took it.
        wait: seconds that the other side asked us to wait; None: it did not.
    """

    status: int | None
    problem: str | None
    wait: float | None = None


def post(url: str, message: Message, now: datetime, *, listed: Collection[str] = ()) -> Outcome:
    """Make one try.

    Args:
        url: of the webhook.
        message: what is posted.
        now: goes into the signature; UTC.
        listed: hosts that the operator lets be inside.
    """
    try:
        return asyncio.run(_post(url, message, now, listed))
    except AddressError as refused:
        return Outcome(None, f"not sent: {refused}")
    except TimeoutError:
        return Outcome(None, f"no answer within {WHOLE_SECONDS:g} s")
    except socket.gaierror:
        return Outcome(None, "not sent: the host's name does not resolve")
    except (OSError, httpx.HTTPError, httpx.InvalidURL, ssl.SSLError) as lost:
        return Outcome(None, f"no answer: {str(lost)[:200] or type(lost).__name__}")


async def _post(url: str, message: Message, now: datetime, listed: Collection[str]) -> Outcome:
    async with asyncio.timeout(WHOLE_SECONDS):
        target = target_of(url, listed)
        numeric = await asyncio.to_thread(outside, target)
        timeout = httpx.Timeout(WHOLE_SECONDS, connect=_CONNECT_SECONDS)
        async with (
            httpx.AsyncClient(
                transport=ToNumbers(numeric, _trusted()),
                timeout=timeout,
                follow_redirects=False,
                trust_env=False,
            ) as client,
            client.stream("POST", url, content=message.body.encode(), headers=message.headers(now)) as answer,
        ):
            return _outcome(answer)


class ToNumbers(httpx.AsyncHTTPTransport):
    """A transport that connects to numeric addresses, whatever the name in the request resolves to by now.

    Args:
        numbers: tried in this order until one takes the connection.
        trusted: certificates that the other side's must lead to.
    """

    def __init__(self, numbers: Sequence[str], trusted: ssl.SSLContext) -> None:
        super().__init__(verify=trusted, trust_env=False)
        self.numbers = numbers

    async def handle_async_request(self, request: httpx.Request) -> httpx.Response:
        """Put a number in the place of the name; Host, SNI and the certificate's check keep the name."""
        named = request.url
        request.headers["Host"] = named.netloc.decode("ascii")
        request.extensions = {**request.extensions, "sni_hostname": named.host}
        for number in self.numbers[:-1]:
            request.url = named.copy_with(host=number)
            try:
                return await super().handle_async_request(request)
            except (httpx.ConnectError, httpx.ConnectTimeout):
                continue
        request.url = named.copy_with(host=self.numbers[-1])
        return await super().handle_async_request(request)


@lru_cache(maxsize=1)
def _trusted() -> ssl.SSLContext:
    return httpx.create_ssl_context(trust_env=False)


def _outcome(answer: httpx.Response) -> Outcome:
    if answer.is_success:
        return Outcome(answer.status_code, None)
    words = f"answered {answer.status_code}"
    if answer.is_redirect:
        words += "; redirects are not followed"
    return Outcome(answer.status_code, words, _asked_wait(answer.headers.get("retry-after")))


def _asked_wait(text: str | None) -> float | None:
    """Seconds named by Retry-After (RFC 9110 §10.2.3: a number or a date), at most a day."""
    if text is None:
        return None
    if text.strip().isascii() and text.strip().isdigit():
        return min(float(text[:12]), _LONGEST_WAIT)
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, TypeError):
        return None
    moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
    return min(max(0.0, (moment - datetime.now(UTC)).total_seconds()), _LONGEST_WAIT)
