"""The client's calls about weekly digests."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.client_transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator


class DigestCalls(Caller):
    """One method per route of weekly digests."""

    def make_digest(self) -> Json:
        """Have this week's digest made; returns the job that does it."""
        return self._post("/v1/digests", None)

    def digests(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's digests, latest week first."""
        return self._wire.pages("/v1/digests", {"limit": limit})

    def digest(self, week: str) -> Json:
        """One week's digest: "2026-W48"."""
        return self._get(f"/v1/digests/{week}")
