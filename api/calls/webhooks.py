"""The client's calls about webhooks: addresses that are told what happens, their secrets, what was delivered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


class WebhookCalls(Caller):
    """One method per route of webhooks."""

    def add_webhook(self, body: Mapping[str, Any]) -> Json:
        """Have an address told; the answer is the only time that its secret is shown, so a lost one is not asked for again."""
        return self._object(self._wire.send("POST", "/v1/webhooks", body=body, repeatable=False).json())

    def webhooks(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's webhooks, without their secrets."""
        return self._wire.pages("/v1/webhooks", {"limit": limit})

    def webhook(self, webhook_id: str) -> Json:
        """One webhook, without its secret."""
        return self._get(f"/v1/webhooks/{webhook_id}")

    def change_webhook(self, webhook_id: str, changes: Mapping[str, Any]) -> Json:
        """Change the named fields, whatever others changed meanwhile; `{"enabled": False}` switches it off."""
        path = f"/v1/webhooks/{webhook_id}"
        return self._object(self._wire.send("PATCH", path, body=changes, headers={"If-Match": "*"}).json())

    def remove_webhook(self, webhook_id: str) -> None:
        """Take a webhook away with its deliveries."""
        self._wire.send("DELETE", f"/v1/webhooks/{webhook_id}")

    def rotate_webhook(self, webhook_id: str, *, overlap_hours: int = 24) -> Json:
        """Give a webhook a new secret, shown this once; for some hours the old one signs as well."""
        path = f"/v1/webhooks/{webhook_id}/rotation"
        body = {"overlap_hours": overlap_hours}
        return self._object(self._wire.send("POST", path, body=body, repeatable=False).json())

    def ping_webhook(self, webhook_id: str) -> Json:
        """Send an event without news; returns the job that does it."""
        return self._post(f"/v1/webhooks/{webhook_id}/ping", None)

    def deliveries(
        self, webhook_id: str, *, state: str | None = None, limit: int | None = None
    ) -> Iterator[Json]:
        """What a webhook was sent, or is still to get, latest first."""
        return self._wire.pages(f"/v1/webhooks/{webhook_id}/deliveries", {"state": state, "limit": limit})

    def delivery(self, webhook_id: str, delivery_id: str) -> Json:
        """One delivery with what it says."""
        return self._get(f"/v1/webhooks/{webhook_id}/deliveries/{delivery_id}")

    def replay_delivery(self, webhook_id: str, delivery_id: str) -> Json:
        """Deliver an event again under the same id; returns the job that does it."""
        return self._post(f"/v1/webhooks/{webhook_id}/deliveries/{delivery_id}/replay", None)
