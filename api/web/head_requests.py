"""HEAD is answered wherever GET is, with the same headers (RFC 9110 §9.3.2); the framework's routes know only GET."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Receive, Scope, Send


class HeadAsGet:
    """Middleware that lets a GET route answer HEAD; the server itself leaves the body out."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass HEAD on as GET; the server's own copy of the request still says HEAD."""
        if scope["type"] == "http" and scope["method"] == "HEAD":
            scope = {**scope, "method": "GET"}
        await self.app(scope, receive, send)
