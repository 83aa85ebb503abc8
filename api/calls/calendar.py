"""The client's calls about calendars: secret addresses under which other programs read due work."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


class CalendarCalls(Caller):
    """One method per route of calendar addresses."""

    def add_calendar(self, body: Mapping[str, Any]) -> Json:
        """Make a secret address; the answer is the only time that it is shown, so a lost one is not asked for again."""
        return self._object(self._wire.send("POST", "/v1/calendar", body=body, repeatable=False).json())

    def calendars(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's calendar addresses, without their secrets."""
        return self._wire.pages("/v1/calendar", {"limit": limit})

    def calendar(self, calendar_id: str) -> Json:
        """One calendar address, without its secret."""
        return self._get(f"/v1/calendar/{calendar_id}")

    def rotate_calendar(self, calendar_id: str) -> Json:
        """Replace a secret address; the old one opens nothing from now on."""
        path = f"/v1/calendar/{calendar_id}/rotation"
        return self._object(self._wire.send("POST", path, repeatable=False).json())

    def remove_calendar(self, calendar_id: str) -> None:
        """Take a calendar address away."""
        self._wire.send("DELETE", f"/v1/calendar/{calendar_id}")
