"""The client's calls about what happened to a car: odometer, parts fitted, looked at, repaired, taken off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping


class HistoryCalls(Caller):
    """One method per route of a car's history."""

    def add_odometer_reading(self, vehicle_id: str, body: Mapping[str, Any]) -> Json:
        """Write down what the dial showed."""
        return self._post(f"/v1/vehicles/{vehicle_id}/odometer-readings", body)

    def odometer_readings(self, vehicle_id: str, *, limit: int | None = None) -> Iterator[Json]:
        """Every reading of a car."""
        return self._wire.pages(f"/v1/vehicles/{vehicle_id}/odometer-readings", {"limit": limit})

    def odometer_reading(self, vehicle_id: str, reading_id: str) -> Json:
        """One reading, with the true distance that it stands for."""
        return self._get(f"/v1/vehicles/{vehicle_id}/odometer-readings/{reading_id}")

    def take_back_odometer_reading(self, vehicle_id: str, reading_id: str) -> None:
        """Strike out a reading."""
        self._wire.send("DELETE", f"/v1/vehicles/{vehicle_id}/odometer-readings/{reading_id}")

    def add_fitment(self, vehicle_id: str, body: Mapping[str, Any]) -> Json:
        """Write down that a part was fitted."""
        return self._post(f"/v1/vehicles/{vehicle_id}/fitments", body)

    def fitments(
        self, vehicle_id: str, *, in_service: bool | None = None, limit: int | None = None
    ) -> Iterator[Json]:
        """A car's parts: on it now (True), past ones (False), or all."""
        query = {"in_service": in_service, "limit": limit}
        return self._wire.pages(f"/v1/vehicles/{vehicle_id}/fitments", query)

    def fitment(self, fitment_id: str) -> Json:
        """One part in one position."""
        return self._get(f"/v1/fitments/{fitment_id}")

    def take_back_fitment(self, fitment_id: str) -> None:
        """Strike out a fitment, with all that happened to the part."""
        self._wire.send("DELETE", f"/v1/fitments/{fitment_id}")

    def add_inspection(self, fitment_id: str, body: Mapping[str, Any]) -> Json:
        """Write down what somebody saw."""
        return self._post(f"/v1/fitments/{fitment_id}/inspections", body)

    def inspections(self, fitment_id: str, *, limit: int | None = None) -> Iterator[Json]:
        """Every look at a part."""
        return self._wire.pages(f"/v1/fitments/{fitment_id}/inspections", {"limit": limit})

    def inspection(self, fitment_id: str, inspection_id: str) -> Json:
        """One look at a part."""
        return self._get(f"/v1/fitments/{fitment_id}/inspections/{inspection_id}")

    def take_back_inspection(self, fitment_id: str, inspection_id: str) -> None:
        """Strike out an inspection."""
        self._wire.send("DELETE", f"/v1/fitments/{fitment_id}/inspections/{inspection_id}")

    def add_repair(self, fitment_id: str, body: Mapping[str, Any]) -> Json:
        """Write down work that left the part in place."""
        return self._post(f"/v1/fitments/{fitment_id}/repairs", body)

    def repairs(self, fitment_id: str, *, limit: int | None = None) -> Iterator[Json]:
        """Every repair of a part."""
        return self._wire.pages(f"/v1/fitments/{fitment_id}/repairs", {"limit": limit})

    def repair(self, fitment_id: str, repair_id: str) -> Json:
        """One repair of a part."""
        return self._get(f"/v1/fitments/{fitment_id}/repairs/{repair_id}")

    def take_back_repair(self, fitment_id: str, repair_id: str) -> None:
        """Strike out a repair."""
        self._wire.send("DELETE", f"/v1/fitments/{fitment_id}/repairs/{repair_id}")

    def add_removal(self, fitment_id: str, body: Mapping[str, Any]) -> Json:
        """Write down that the part came off, and why."""
        return self._post(f"/v1/fitments/{fitment_id}/removal", body)

    def removal(self, fitment_id: str) -> Json:
        """How the part came off; 404 while it is on the car."""
        return self._get(f"/v1/fitments/{fitment_id}/removal")

    def take_back_removal(self, fitment_id: str) -> None:
        """Strike out a removal: the part is on the car after all."""
        self._wire.send("DELETE", f"/v1/fitments/{fitment_id}/removal")

    def move_parts(self, vehicle_id: str, body: Mapping[str, Any]) -> Json:
        """Write down that parts went from another car into this one, with an engine for example."""
        return self._post(f"/v1/vehicles/{vehicle_id}/moved-parts", body)
