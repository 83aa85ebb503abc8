"""A tour's risk, from the car's forecasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from api.bridge.forecasts.outlook import Outlook, outlooks
from api.bridge.forecasts.road import Ahead, fails_over
from api.bridge.words import priced, significant
from api.risks.service import NOTES, odds_of, part_of
from api.schedules import no_driving, store
from api.schedules.answers import cautions_of, minded
from api.tours.packages import Package, asked_for, proposed
from api.tours.schemas import TourRiskOut
from planner.catalogue import load_catalogue
from planner.risk import Exposure, TourPart, TourRisk, ease_at_roadside, tour_risk
from planner.units import DAYS_PER_YEAR, to_km

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.security import Principal
    from api.storage.tables import Vehicle
    from api.tours.asking import Tour
    from planner.units import DistanceUnit


def vehicle_tour(session: Session, who: Principal, vehicle: Vehicle, tour: Tour) -> TourRiskOut:
    """What may stop a car on a tour.

    Raises:
        Conflict: a package names a part that is not on the car.
    """
    unit = tour.unit or cast("DistanceUnit", vehicle.distance_unit)
    every = outlooks(session, store.all_of_vehicle(session, vehicle.fleet_id, vehicle.id), tour.starts_on)
    sound = [one for one in every if one.kept.since.found_bad is None]
    km = to_km(tour.distance, unit)
    parts = [_tour_part(one, tour, km) for one in sound]
    packages = asked_for(sound, tour.renew)
    if not packages:
        packages = proposed(sound, tour_risk(parts, km=km, days=tour.days).before, tour.ends_on)
    renewed = {package.name: package.fitment_ids for package in packages}
    found = tour_risk(parts, km=km, days=tour.days, packages=renewed, bedded_in=tour.bedded_in)
    positions = store.positions(session, vehicle.fleet_id, [one.row.fitment_id for one in every])
    bad = [one for one in every if one.kept.since.found_bad is not None]
    return TourRiskOut.model_validate(
        {
            "do_not_drive": no_driving.forbidden(session, vehicle.fleet_id, vehicle.id),
            "vehicle_id": vehicle.id,
            "vehicle_name": vehicle.name,
            "planned_use": tour.planned_use,
            "starts_on": tour.starts_on,
            "ends_on": tour.ends_on,
            "distance": {"value": tour.distance, "unit": unit},
            "currency": who.currency,
            **_risk(sound, found, positions),
            "packages": _packages(sound, packages, found),
            "found_bad": [
                {**part_of(one, positions), "reason": priced(one.reason, who.currency)} for one in bad
            ],
            "cautions": _cautions(every, packages, bad),
            "notes": list(NOTES),
        }
    )


def _tour_part(one: Outlook, tour: Tour, km: float) -> TourPart:
    kind = load_catalogue()[one.row.kind]
    years = tour.days / DAYS_PER_YEAR
    name = one.row.fitment_id
    ahead = Ahead(fails_over(one, tour.starts_on, (km, years)))
    return TourPart(
        name=name,
        kind=kind.id,
        life=one.stored.life,
        km=one.worn[0],
        years=one.worn[1],
        stops_car=kind.stops_car,
        new_part_fault=one.kept.new_part_fault,
        roadside_ease=ease_at_roadside(kind),
        bound=kind.safety or (one.decides == "cap" and one.window.status == "due now"),
        standing=Exposure(name, kind.id, ahead, 0.0, 0.0, km, years, kind.stops_car),
    )


def _risk(parts: Sequence[Outlook], found: TourRisk, positions: dict[str, str]) -> dict[str, Any]:
    by_id = {one.row.fitment_id: one for one in parts}
    catalogue = load_catalogue()
    return {
        "before": odds_of(found.before.stop),
        "contributors": [
            {
                **part_of(by_id[name], positions),
                "chance": odds_of(chance),
                "failure_effect": catalogue[by_id[name].row.kind].failure_effect,
            }
            for name, chance in found.before.contributors
        ],
        "spares": [
            {
                "fitment_id": spare.part,
                "kind": by_id[spare.part].row.kind,
                "part": catalogue[by_id[spare.part].row.kind].name_gb,
                "chance": odds_of(spare.chance),
                "roadside_ease": round(ease_at_roadside(catalogue[by_id[spare.part].row.kind]), 1),
                **minded(catalogue[by_id[spare.part].row.kind]),
            }
            for spare in found.spares
        ],
    }


def _packages(parts: Sequence[Outlook], packages: Sequence[Package], found: TourRisk) -> list[dict[str, Any]]:
    by_id = {one.row.fitment_id: one for one in parts}
    return [
        {
            "name": package.name,
            "fitment_ids": list(package.fitment_ids),
            "parts": [load_catalogue()[by_id[name].row.kind].name_gb for name in package.fitment_ids],
            "stop": odds_of(after.risk.stop),
            "avoided": significant(after.avoided),
            "cost": sum(by_id[name].kept.planned for name in package.fitment_ids),
            "note": after.note or None,
        }
        for package, after in zip(packages, found.packages, strict=True)
    ]


def _cautions(every: Sequence[Outlook], packages: Sequence[Package], bad: Sequence[Outlook]) -> list[str]:
    """The cautions that go with the work of the packages and with what was found bad, each once."""
    touched = {name for package in packages for name in package.fitment_ids}
    touched |= {one.row.fitment_id for one in bad}
    kinds = [load_catalogue()[one.row.kind] for one in every if one.row.fitment_id in touched]
    return list(dict.fromkeys(caution for kind in kinds for caution in cautions_of(kind)))
