"""The client's calls about fault-findings, complaints and checks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json, Tagged

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


class FaultCalls(Caller):
    """One method per route of finding out which part it is."""

    def open_fault_finding(self, vehicle_id: str, body: Mapping[str, Any]) -> Json:
        """Open a case on a complaint; its suspects, ranked."""
        return self._post(f"/v1/vehicles/{vehicle_id}/fault-findings", body)

    def fault_findings(self, vehicle_id: str, *, limit: int | None = None) -> Iterator[Json]:
        """Every case of a car, without suspects."""
        return self._wire.pages(f"/v1/vehicles/{vehicle_id}/fault-findings", {"limit": limit})

    def fault_finding(self, finding_id: str) -> Json:
        """One case with its suspects as they stand."""
        return self._get(f"/v1/fault-findings/{finding_id}")

    def next_step(self, finding_id: str) -> Json:
        """What to do next, and what may come of it."""
        return self._get(f"/v1/fault-findings/{finding_id}/next-step")

    def add_fault_finding_step(self, finding_id: str, body: Mapping[str, Any]) -> Json:
        """Add a check with its outcome, or a renewal with whether it cured."""
        return self._post(f"/v1/fault-findings/{finding_id}/steps", body)

    def tagged_fault_finding(self, finding_id: str) -> Tagged:
        """One case, with the tag that `take_last_step_back` wants."""
        return self._tagged(f"/v1/fault-findings/{finding_id}")

    def take_last_step_back(self, finding_id: str, etag: str) -> None:
        """Take back the last step of an open case."""
        self._take_away(f"/v1/fault-findings/{finding_id}/steps/last", etag)

    def close_fault_finding(self, finding_id: str, body: Mapping[str, Any]) -> Json:
        """Close a case; what it showed goes into the parts' histories."""
        return self._post(f"/v1/fault-findings/{finding_id}/closing", body)

    def complaints(self) -> Iterator[Json]:
        """The fleet's own complaints, then the book's."""
        return self._wire.pages("/v1/complaints")

    def add_complaint(self, body: Mapping[str, Any]) -> Json:
        """Add a complaint of the fleet's own."""
        return self._post("/v1/complaints", body)

    def complaint(self, complaint: str) -> Tagged:
        """One complaint, with the tag that `change_complaint` wants."""
        return self._tagged(f"/v1/complaints/{complaint}")

    def change_complaint(self, complaint: str, changes: Mapping[str, Any], etag: str) -> Tagged:
        """Change an own complaint, or weigh the causes of one of the book anew."""
        return self._change(f"/v1/complaints/{complaint}", changes, etag)

    def take_complaint_away(self, complaint: str, etag: str | None = None) -> None:
        """Take away an own complaint, or one's own weights for one of the book."""
        self._take_away(f"/v1/complaints/{complaint}", etag)

    def checks(self) -> Iterator[Json]:
        """The book's checks and the fleet's own."""
        return self._wire.pages("/v1/checks")

    def add_check(self, body: Mapping[str, Any]) -> Json:
        """Add a check of the fleet's own."""
        return self._post("/v1/checks", body)

    def check(self, check: str) -> Tagged:
        """One check, with the tag that `change_check` wants."""
        return self._tagged(f"/v1/checks/{check}")

    def change_check(self, check: str, changes: Mapping[str, Any], etag: str) -> Tagged:
        """Change an own check, or say what one of the book is worth here."""
        return self._change(f"/v1/checks/{check}", changes, etag)

    def take_check_away(self, check: str, etag: str | None = None) -> None:
        """Take away an own check, or one's own figures for one of the book."""
        self._take_away(f"/v1/checks/{check}", etag)
