"""A typed client of the service: one method per route, lists as iterators, refusals as ProblemError."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

from api.calls.backtests import BacktestCalls
from api.calls.calendar import CalendarCalls
from api.calls.digests import DigestCalls
from api.calls.faults import FaultCalls
from api.calls.history import HistoryCalls
from api.calls.imports import ImportCalls
from api.calls.planning import PlanningCalls
from api.calls.transport import Json, ProblemError, Retries, Tagged, Transport
from api.calls.webhooks import WebhookCalls

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date
    from types import TracebackType

    from planner.units import DistanceUnit

__all__ = ["Json", "ProblemError", "Retries", "Tagged", "WearwrightClient"]


class WearwrightClient(
    HistoryCalls,
    PlanningCalls,
    CalendarCalls,
    DigestCalls,
    FaultCalls,
    WebhookCalls,
    ImportCalls,
    BacktestCalls,
):
    """The service, as its caller sees it.

    Bodies are mappings as in the OpenAPI document; dates in them are ISO 8601 text. Every method raises `ProblemError`
    where the service refuses, and tries again by itself on lost connections, 429 and 503.

    Args:
        base_url: where the service answers, "http://127.0.0.1:8000".
        key: "ww_…", as `wearwright keys create` printed it.
        timeout: seconds to wait for one answer.
        retries: how often to try again; see `Retries`.
        proxies: whether to go through the proxies that the environment names; not for a service on this machine.
    """

    def __init__(
        self,
        base_url: str,
        key: str,
        *,
        timeout: float = 30.0,
        retries: Retries | None = None,
        proxies: bool = True,
    ) -> None:
        super().__init__(Transport(base_url, key, timeout=timeout, retries=retries, proxies=proxies))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the connections."""
        self._wire.close()

    # Cars

    def add_vehicle(self, body: Mapping[str, Any]) -> Json:
        """Register a car."""
        return self._post("/v1/vehicles", body)

    def vehicles(self, *, external_ref: str | None = None, limit: int | None = None) -> Iterator[Json]:
        """Every car of the fleet, or the one that another system knows by a name; `limit` is the size of a page."""
        return self._wire.pages("/v1/vehicles", {"external_ref": external_ref, "limit": limit})

    def vehicle(self, vehicle_id: str) -> Tagged:
        """One car, with the tag that `change_vehicle` wants."""
        return self._tagged(f"/v1/vehicles/{vehicle_id}")

    def change_vehicle(self, vehicle_id: str, changes: Mapping[str, Any], etag: str) -> Tagged:
        """Change the named fields (null empties one); refused with 412 where somebody was faster."""
        return self._change(f"/v1/vehicles/{vehicle_id}", changes, etag)

    def remove_vehicle(self, vehicle_id: str, etag: str | None = None) -> None:
        """Take a car and all its records out of the fleet; with an ETag only if nobody changed it meanwhile."""
        self._take_away(f"/v1/vehicles/{vehicle_id}", etag)

    # Part kinds, their lives and settings

    def part_kinds(self) -> Iterator[Json]:
        """Every part kind of the catalogue."""
        return self._wire.pages("/v1/part-kinds")

    def part_kind(self, kind: str) -> Json:
        """One part kind."""
        return self._get(f"/v1/part-kinds/{kind}")

    def life(self, kind: str, *, unit: DistanceUnit | None = None) -> Json:
        """How long parts of this kind last, from the book and from this fleet's records."""
        return self._get(f"/v1/part-kinds/{kind}/life", {"unit": unit})

    def settings(self, kind: str) -> Json:
        """This fleet's own costs, limits and prior for a kind."""
        return self._get(f"/v1/part-kinds/{kind}/settings")

    def set_settings(self, kind: str, body: Mapping[str, Any]) -> Json:
        """Set this fleet's own costs, limits and prior for a kind."""
        return self._object(self._wire.send("PUT", f"/v1/part-kinds/{kind}/settings", body=body).json())

    def refit(self, kind: str) -> Json:
        """Ask for a new fit from all records; returns the job that does it."""
        return self._post(f"/v1/part-kinds/{kind}/refits", None)

    # What is due, and the chances

    def schedule(
        self, vehicle_id: str, *, as_of: date | None = None, horizon_years: float | None = None
    ) -> Json:
        """A car's work, dated, with reasons."""
        return self._get(
            f"/v1/vehicles/{vehicle_id}/schedule", {"as_of": as_of, "horizon_years": horizon_years}
        )

    def due_soon(
        self, vehicle_id: str, *, as_of: date | None = None, within_days: int | None = None
    ) -> Iterator[Json]:
        """What one car needs within the next days."""
        return self._wire.pages(
            f"/v1/vehicles/{vehicle_id}/due-soon", {"as_of": as_of, "within_days": within_days}
        )

    def fleet_due_soon(
        self, *, as_of: date | None = None, within_days: int | None = None, limit: int | None = None
    ) -> Iterator[Json]:
        """What the fleet needs within the next days, most urgent first; `limit` is the size of a page."""
        return self._wire.pages("/v1/due-soon", {"as_of": as_of, "within_days": within_days, "limit": limit})

    def no_driving(self) -> list[Json]:
        """The cars of the fleet that nobody should drive, as their open fault-findings say; empty: none is known."""
        return list(self._get("/v1/due-soon", {"within_days": 0, "limit": 1})["do_not_drive"])

    def risk(
        self,
        vehicle_id: str,
        *,
        as_of: date | None = None,
        days: int | None = None,
        distance: float | None = None,
        unit: DistanceUnit | None = None,
    ) -> Json:
        """A car's chance of letting its driver down within so many days and so much distance."""
        query = {"as_of": as_of, "days": days, "distance": distance, "unit": unit}
        return self._get(f"/v1/vehicles/{vehicle_id}/risk", query)

    # Keys (an admin's business)

    def keys(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's keys, revoked ones too; never the keys themselves."""
        return self._wire.pages("/v1/keys", {"limit": limit})

    def key(self, key_id: str) -> Json:
        """One key; never the key itself."""
        return self._get(f"/v1/keys/{key_id}")

    def add_key(self, body: Mapping[str, Any]) -> Json:
        """Make a key; the answer is the only time that it is shown, so a lost one is not asked for again."""
        return self._object(self._wire.send("POST", "/v1/keys", body=body, repeatable=False).json())

    def revoke_key(self, key_id: str) -> None:
        """Make a key open nothing from now on."""
        tag = self._wire.send("GET", f"/v1/keys/{key_id}").headers["ETag"]
        self._wire.send("DELETE", f"/v1/keys/{key_id}", headers={"If-Match": tag})
