"""The client's calls about planning ahead: visits, policies, work put off, rules for a kind, tours, parts to order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.calls.transport import Caller, Json

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from planner.units import DistanceUnit


class PlanningCalls(Caller):
    """One method per route of the plan beyond a single part's date."""

    def visits(
        self,
        vehicle_id: str,
        *,
        as_of: date | None = None,
        within_years: float | None = None,
        set_up: float | None = None,
        gap_weeks: int | None = None,
        most_hours: float | None = None,
        most_money: float | None = None,
        season: tuple[str, str] | None = None,
        closed: Sequence[date] = (),
    ) -> Json:
        """A car's work grouped into visits; `season` is its driving season, ("04-15", "10-20")."""
        start, end = season or (None, None)
        query = {
            "as_of": as_of,
            "within_years": within_years,
            "set_up": set_up,
            "gap_weeks": gap_weeks,
            "most_hours": most_hours,
            "most_money": most_money,
            "season_start": start,
            "season_end": end,
            "closed": [day.isoformat() for day in closed] or None,
        }
        return self._get(f"/v1/vehicles/{vehicle_id}/visits", query)

    def policies(
        self,
        vehicle_id: str,
        *,
        fitment: str | None = None,
        as_of: date | None = None,
    ) -> Json:
        """Renew, check, or run to failure with or without a spare: what each costs a year on this car."""
        query = {"fitment": fitment, "as_of": as_of}
        return self._get(f"/v1/vehicles/{vehicle_id}/policies", query)

    def put_off(self, fitment_id: str, body: Mapping[str, Any]) -> Json:
        """Put a part's renewal off, with the reason; no limit is put off."""
        return self._post(f"/v1/fitments/{fitment_id}/put-off", body)

    def read_put_off(self, fitment_id: str, *, as_of: date | None = None) -> Json:
        """How a part's renewal was put off; 404 where it was not."""
        return self._get(f"/v1/fitments/{fitment_id}/put-off", {"as_of": as_of})

    def take_back_put_off(self, fitment_id: str) -> None:
        """Put a part's renewal off no longer."""
        self._wire.send("DELETE", f"/v1/fitments/{fitment_id}/put-off")

    def plan_use(self, vehicle_id: str, body: Mapping[str, Any]) -> Json:
        """Say that a car will go on a tour of so far, or be laid up; its dates follow."""
        return self._post(f"/v1/vehicles/{vehicle_id}/planned-use", body)

    def planned_use(self, vehicle_id: str) -> Iterator[Json]:
        """A car's tours and lay-ups, page after page."""
        return self._wire.pages(f"/v1/vehicles/{vehicle_id}/planned-use")

    def read_planned_use(self, vehicle_id: str, plan_id: str) -> Json:
        """One tour or lay-up."""
        return self._get(f"/v1/vehicles/{vehicle_id}/planned-use/{plan_id}")

    def take_back_planned_use(self, vehicle_id: str, plan_id: str) -> None:
        """Take a tour or lay-up back: the car goes on as usual."""
        self._wire.send("DELETE", f"/v1/vehicles/{vehicle_id}/planned-use/{plan_id}")

    def fleet(self) -> Json:
        """The fleet that the key belongs to."""
        return self._get("/v1/fleet")

    def change_fleet(self, changes: Mapping[str, Any], etag: str = "*") -> Json:
        """Change how much costs of later years count (`discount_rate`); the answer names the jobs that apply it."""
        found = self._wire.send("PATCH", "/v1/fleet", body=changes, headers={"If-Match": etag})
        return self._object(found.json())

    def work_out_rule(self, kind: str) -> Json:
        """Ask for the one rule (distance and years) that suits all cars of the fleet; returns the job that does it."""
        return self._post(f"/v1/part-kinds/{kind}/rules", None)

    def rule(self, kind: str, *, unit: DistanceUnit | None = None) -> Json:
        """The rule for a kind that was worked out last."""
        return self._get(f"/v1/part-kinds/{kind}/rule", {"unit": unit})

    def tour_risk(
        self,
        vehicle_id: str,
        *,
        distance: float | None = None,
        unit: DistanceUnit | None = None,
        days: int | None = None,
        starts_on: date | None = None,
        planned_use: str | None = None,
        renew: Sequence[Sequence[str]] = (),
        bedded_in: bool | None = None,
    ) -> Json:
        """What may stop a car on a tour; `renew` is up to three packages of fitment ids or kinds to compare.

        `planned_use` is the id of a stored tour, in place of distance, unit, days and first day.
        """
        query = {
            "distance": distance,
            "unit": unit,
            "days": days,
            "starts_on": starts_on,
            "planned_use": planned_use,
            "renew": [",".join(package) for package in renew] or None,
            "bedded_in": bedded_in,
        }
        return self._get(f"/v1/vehicles/{vehicle_id}/tour-risk", query)

    def buying_list(self, body: Mapping[str, Any]) -> Json:
        """What to treat as due on a car on offer, and what its first two years may cost; nothing is stored."""
        return self._post("/v1/buying-lists", body)

    def parts_to_order(
        self,
        *,
        as_of: date | None = None,
        months: int | None = None,
        chance: float | None = None,
        lead_days: int | None = None,
    ) -> Json:
        """What the fleet will want in the months ahead, kind by kind, and the workshop hours."""
        query = {"as_of": as_of, "months": months, "chance": chance, "lead_days": lead_days}
        return self._get("/v1/parts-to-order", query)
