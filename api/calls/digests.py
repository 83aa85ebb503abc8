"""The client's calls about weekly digests and who gets them by mail."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


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

    def add_digest_subscription(self, body: Mapping[str, Any]) -> Json:
        """Have the digest sent to an address every week."""
        return self._post("/v1/digest-subscriptions", body)

    def digest_subscriptions(self, *, limit: int | None = None) -> Iterator[Json]:
        """The addresses that get the digest, each with its latest delivery."""
        return self._wire.pages("/v1/digest-subscriptions", {"limit": limit})

    def digest_subscription(self, subscription_id: str) -> Json:
        """One address that gets the digest."""
        return self._get(f"/v1/digest-subscriptions/{subscription_id}")

    def remove_digest_subscription(self, subscription_id: str) -> None:
        """Send no digest to an address any more."""
        self._wire.send("DELETE", f"/v1/digest-subscriptions/{subscription_id}")
