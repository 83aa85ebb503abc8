"""Lists in pages, for people: the address of the next page."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fastapi import Response

from api.conventions import Paging

if TYPE_CHECKING:
    from fastapi import Request

_NEXT = re.compile(r'<([^>]*)>; rel="next"')


def asked_for(request: Request, cursor: str | None, limit: int) -> Paging:
    """Which page of a list was asked for."""
    return Paging(limit, cursor, request, Response())


def next_page(asked: Paging) -> str | None:
    """Address of the page after the one that was read; None after the last."""
    found = _NEXT.search(asked.response.headers.get("link", ""))
    return None if found is None else found.group(1)
