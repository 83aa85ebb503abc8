"""What is refused before a request is read: its size, its media type, its encoding, text that no database keeps."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException

from api import problems
from api.web import refusals

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

_WITH_BODY = {"POST", "PUT", "PATCH"}
_PAGES = "/pages/"
"""Addresses of pages, whose forms come as browsers send them."""

_FREE_BODIES = re.compile(r"/v1/imports/[^/]+/content")
"""Addresses that take other media types and larger bodies, and check them themselves."""


class BodyRules:
    """Middleware that refuses a body by its headers alone, and an address with NUL in it.

    Args:
        app: what is called when nothing is wrong.
        max_body_bytes: largest Content-Length taken; a body without one is counted while it is read.
    """

    def __init__(self, app: ASGIApp, max_body_bytes: int) -> None:
        self.app = app
        self.max_body_bytes = max_body_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse or pass on."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        problem = self._problem(scope)
        if problem is None:
            await self.app(scope, self._counted(scope, receive), send)
            return
        await refusals.answer(problem)(scope, receive, send)

    def _problem(self, scope: Scope) -> problems.ServiceProblem | None:
        if "\x00" in scope["path"]:
            return problems.NotFound("no address holds a NUL character")
        if b"%00" in scope["query_string"]:
            return problems.Malformed("query", "text without NUL characters", "a NUL character")
        if _FREE_BODIES.fullmatch(scope["path"]):
            return None
        headers = Headers(scope=scope)
        return self._length(headers) or (
            _media(headers, form=scope["path"].startswith(_PAGES)) if scope["method"] in _WITH_BODY else None
        )

    def _counted(self, scope: Scope, receive: Receive) -> Receive:
        """Count a body while it is read: it may not say its length."""
        if _FREE_BODIES.fullmatch(scope["path"]):
            return receive
        seen = 0

        async def counting() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > self.max_body_bytes:
                raise HTTPException(problems.TooLarge.status)
            return message

        return counting

    def _length(self, headers: Headers) -> problems.ServiceProblem | None:
        text = headers.get("content-length", "0")
        if text.isascii() and text.isdigit() and int(text) <= self.max_body_bytes:
            return None
        return problems.TooLarge("the body is larger than is taken here", limit=self.max_body_bytes)


def _media(headers: Headers, *, form: bool) -> problems.ServiceProblem | None:
    """Bodies are plain JSON, those of pages plain forms; one without content needs no type."""
    if headers.get("content-encoding", "identity").lower() != "identity":
        return problems.WrongMedia("send the body without a content encoding")
    if headers.get("content-length", "") == "0" or not {"content-length", "transfer-encoding"} & set(headers):
        return None
    media = headers.get("content-type", "").split(";")[0].strip().lower()
    wanted = "application/x-www-form-urlencoded" if form else "application/json"
    return None if media == wanted else problems.WrongMedia(f"send {wanted}")
