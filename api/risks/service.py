"""What may stop a car, from its forecasts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any, cast

from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.forecasts.road import on_the_road
from api.bridge.words import distance, priced, significant
from api.problems import Malformed
from api.risks.schemas import VehicleRisk
from api.schedules import no_driving, store
from api.schedules.answers import minded
from planner.catalogue import load_catalogue
from planner.risk import chance_in_words
from planner.units import DAYS_PER_YEAR, to_km

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.storage.tables import Vehicle
    from planner.risk import Chance
    from planner.units import DistanceUnit

NOTES = (
    "An estimate from what is on record: parts that nobody wrote down are not in it.",
    "It is no inspection, and it never postpones a limit of maker or authority.",
)


@dataclass(frozen=True)
class Ahead:
    """What lies before a car: from a day on so many days, and so far; None: as far as it is usually driven."""

    as_of: date
    days: int
    distance: float | None
    unit: DistanceUnit | None

    @property
    def until(self) -> date:
        """The last day."""
        return self.as_of + timedelta(days=self.days)

    @property
    def years(self) -> float:
        """The time ahead."""
        return self.days / DAYS_PER_YEAR


def vehicle_risk(session: Session, vehicle: Vehicle, ahead: Ahead, currency: str) -> VehicleRisk:
    """The chance that a part stops the car.

    Args:
        session: any session; it only reads.
        vehicle: the car.
        ahead: what lies before it.
        currency: the fleet's, for sums in words.

    Raises:
        Malformed: a unit without a distance.
    """
    if ahead.unit is not None and ahead.distance is None:
        raise Malformed("distance", "a distance beside its unit", "nothing")
    unit = ahead.unit or cast("DistanceUnit", vehicle.distance_unit)
    parts = outlooks(session, store.all_of_vehicle(session, vehicle.fleet_id, vehicle.id), ahead.as_of)
    km = _km_ahead(session, vehicle, ahead, unit, parts)
    road = on_the_road(parts, ahead.as_of, km=km, years=ahead.years)
    positions = store.positions(session, vehicle.fleet_id, [one.row.fitment_id for one in parts])
    by_id = {one.row.fitment_id: one for one in parts}
    return VehicleRisk.model_validate(
        {
            "do_not_drive": no_driving.forbidden(session, vehicle.fleet_id, vehicle.id),
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "as_of": ahead.as_of,
            "until": ahead.until,
            "distance": _ahead_shown(ahead, km, unit),
            "stop": odds_of(road.risk.stop),
            "contributors": [
                {
                    **part_of(by_id[fitment_id], positions),
                    "chance": odds_of(chance),
                    "failure_effect": load_catalogue()[by_id[fitment_id].row.kind].failure_effect,
                }
                for fitment_id, chance in road.risk.contributors
            ],
            "found_bad": [
                {**part_of(one, positions), "reason": priced(one.reason, currency)} for one in road.found_bad
            ],
            "notes": list(NOTES),
        }
    )


def _km_ahead(
    session: Session, vehicle: Vehicle, ahead: Ahead, unit: DistanceUnit, parts: Sequence[Outlook]
) -> float:
    """As asked, or as the car is driven and as is planned for it."""
    if ahead.distance is not None:
        return to_km(ahead.distance, unit)
    if parts:
        return parts[0].kept.km_between((ahead.as_of, ahead.until), parts[0].row.as_of)
    usage = store.usage(session, vehicle.fleet_id, [vehicle.id]).get(vehicle.id)
    return 0.0 if usage is None else usage.km_per_year * ahead.years


def _ahead_shown(ahead: Ahead, km: float, unit: DistanceUnit) -> dict[str, Any] | None:
    """The distance as it was asked; the usual one to two significant figures."""
    if ahead.distance is not None:
        return {"value": ahead.distance, "unit": unit}
    usual = distance(km, unit)
    return None if usual is None else {**usual, "value": significant(usual["value"])}


def part_of(one: Outlook, positions: dict[str, str]) -> dict[str, Any]:
    """What names a part in an answer, and what to mind about it."""
    return {
        **minded(load_catalogue()[one.row.kind]),
        "fitment_id": one.row.fitment_id,
        "kind": one.row.kind,
        "part": load_catalogue()[one.row.kind].name_gb,
        "position": positions[one.row.fitment_id] or None,
    }


def odds_of(chance: Chance) -> dict[str, Any]:
    """A chance with its range, to two significant figures, and as odds."""
    mean, low, high = (significant(p) for p in (chance.mean, chance.low, chance.high))
    return {"mean": mean, "low": low, "high": high, "words": chance_in_words(mean, low, high)}
