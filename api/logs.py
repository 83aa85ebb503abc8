"""Structured logs: one line per event, with the request's id, to standard error."""

from __future__ import annotations

import logging
import sys
import time
from typing import TYPE_CHECKING, Any

import structlog
from asgi_correlation_id import correlation_id

from api import metrics

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

log = structlog.get_logger("api.requests")

_QUIET = {"/healthz", "/readyz", "/metrics"}


def configure(level: str, *, as_json: bool) -> None:
    """Send our events and the libraries' warnings to standard error in one form."""
    shared: list[Any] = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.add_log_level,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        _with_request,
    ]
    structlog.configure(
        processors=[*shared, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=False,
    )
    last: list[Any] = (
        [structlog.processors.format_exc_info, structlog.processors.JSONRenderer()]
        if as_json
        else [_for_people()]
    )
    remove = structlog.stdlib.ProcessorFormatter.remove_processors_meta
    formatter = structlog.stdlib.ProcessorFormatter(foreign_pre_chain=shared, processors=[remove, *last])
    handler = logging.StreamHandler(sys.stderr)
    handler.setFormatter(formatter)
    root = logging.getLogger()
    root.handlers[:] = [handler]
    root.setLevel(logging.WARNING)
    logging.getLogger("api").setLevel(level.upper())


def _for_people() -> structlog.dev.ConsoleRenderer:
    """Lines for people; tracebacks without the values of variables, which may be secret."""
    return structlog.dev.ConsoleRenderer(
        colors=sys.stderr.isatty(), exception_formatter=structlog.dev.plain_traceback
    )


def _with_request(_logger: object, _method: str, event: dict[str, Any]) -> dict[str, Any]:
    if (name := correlation_id.get()) is not None:
        event.setdefault("request_id", name)
    return event


class RequestLog:
    """Middleware that writes one line per request: what was asked, what was answered, how long it took.

    Neither bodies nor query strings nor headers are written: they hold what is the keeper's.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, then write."""
        if scope["type"] != "http" or scope["path"] in _QUIET:
            await self.app(scope, receive, send)
            return
        began, status = time.perf_counter(), 500

        async def noting(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, noting)
        finally:
            seconds = time.perf_counter() - began
            metrics.request_ended(scope, status, seconds)
            ms = round(seconds * 1000, 1)
            log.info("request", method=scope["method"], path=_shown(scope["path"]), status=status, ms=ms)


def _shown(path: str) -> str:
    """A path for the log; a calendar's address is a secret and stays out of it."""
    return "/calendar/…" if path.startswith("/calendar/") else path
