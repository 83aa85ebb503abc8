"""A tour: what may stop the car on it, what work beforehand would change, and which spares to carry."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.errors import InputError
from planner.risk.exposure import CarRisk, Chance, Exposure, car_risk
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from planner.catalogue import PartKind
    from planner.risk.exposure import LifeDraws

LONGEST_DAYS = 366
"""A tour longer than a year is not one."""

NOT_AT_THE_ROADSIDE = frozenset({"brakes", "tyres and running gear", "rubber and body", "clutch and exhaust"})

BED_IN_KM = 300.0
"""New parts are run in over some 200-500 km before a tour (common practice); the faults of new stock show there."""


@dataclass(frozen=True)
class TourPart:
    """One part of the car that goes on tour.

    Attributes:
        name, kind, life: as in `Exposure`.
        km, years: clocks at the start.
        stops_car: chance that its failure stops the car.
        new_part_fault: chance that a new one is bad.
        roadside_ease: how easily it is renewed at the roadside, 0 (not at all) to 1 (minutes, pocket tools).
        bound: its renewal is not to be left, whatever it does to the chance of a stop (a safety part, a limit reached).
        standing: what lies before it as it stands, where the caller knows better than the clocks say (a part of
            unknown age); None: by the clocks.
    """

    name: str
    kind: str
    life: LifeDraws
    km: float
    years: float
    stops_car: float
    new_part_fault: float = 0.0
    roadside_ease: float = 0.0
    bound: bool = False
    standing: Exposure | None = None


@dataclass(frozen=True)
class PackageRisk:
    """The tour after one package of work.

    Attributes:
        name: of the package.
        risk: of a stop, and what contributes.
        avoided: how much less the mean chance of a stop is than with nothing done; negative if it is more.
        note: what to mind about the package, in words; empty if nothing.
    """

    name: str
    risk: CarRisk
    avoided: float
    note: str = ""


@dataclass(frozen=True)
class Spare:
    """A spare worth carrying: chance of needing it to get going again, times how easily it is fitted."""

    part: str
    chance: Chance
    worth: float


@dataclass(frozen=True)
class TourRisk:
    """What may happen on a tour.

    Attributes:
        before: with nothing done.
        packages: after each package of work, in the order given.
        spares: to carry with nothing done, the worthiest first.
    """

    before: CarRisk
    packages: tuple[PackageRisk, ...]
    spares: tuple[Spare, ...]


def tour_risk(
    parts: Sequence[TourPart],
    *,
    km: float,
    days: float,
    packages: Mapping[str, Collection[str]] | None = None,
    bedded_in: bool = False,
    level: float = 0.8,
    seed: int = 0,
) -> TourRisk:
    """The chance of a stop on a tour, before and after packages of work, and spares by worth.

    A renewed part starts new: unless `bedded_in` (run some 300 km beforehand) it brings the chance of being bad.

    Args:
        parts: the car's parts.
        km: of the tour.
        days: of the tour.
        packages: name of a package to names of the parts it renews.
        bedded_in: the work is done early enough to be run in.
        level: share of the draws that ranges cover.
        seed: of the shuffle that makes kinds independent.

    Raises:
        InputError: the tour is longer than a year, a figure is out of range, or a package names an unknown part.
    """
    _check(parts, km, days, packages or {})
    ahead = km, days / DAYS_PER_YEAR
    before = car_risk([_exposed(part, ahead) for part in parts], level=level, seed=seed)
    after = []
    for name, renewed in (packages or {}).items():
        exposed = [_exposed(part, ahead, renewed=part.name in renewed, bedded_in=bedded_in) for part in parts]
        risk = car_risk(exposed, level=level, seed=seed)
        avoided = before.stop.mean - risk.stop.mean
        bound = any(part.bound and part.name in renewed for part in parts)
        after.append(PackageRisk(name, risk, avoided, _note(avoided, bedded_in=bedded_in, bound=bound)))
    return TourRisk(before, tuple(after), _spares(parts, before))


def ease_at_roadside(kind: PartKind) -> float:
    """How easily a kind is renewed at the roadside, 0 to 1, from its shortest labour (judgement).

    Nothing an hour away from the toolbox is, and brakes, steering, tyres and running gear are not work for the roadside.
    """
    if kind.family in NOT_AT_THE_ROADSIDE:
        return 0.0
    return max(0.0, 1.0 - kind.labour_hours[0])


def _exposed(
    part: TourPart, ahead: tuple[float, float], *, renewed: bool = False, bedded_in: bool = False
) -> Exposure:
    more_km, more_years = ahead
    own = Exposure(part.name, part.kind, part.life, part.km, part.years, more_km, more_years, part.stops_car)
    if not renewed:
        return own if part.standing is None else part.standing
    if bedded_in:
        return replace(own, km=BED_IN_KM, years=0.0)
    return replace(own, km=0.0, years=0.0, new_part_fault=part.new_part_fault)


def _spares(parts: Sequence[TourPart], before: CarRisk) -> tuple[Spare, ...]:
    chances = dict(before.contributors)
    found = [
        Spare(part.name, chances[part.name], part.roadside_ease * chances[part.name].mean)
        for part in parts
        if part.roadside_ease > 0
    ]
    return tuple(sorted(found, key=lambda spare: spare.worth, reverse=True))


def _note(avoided: float, *, bedded_in: bool, bound: bool) -> str:
    if avoided <= 0 and bound:
        return (
            "New parts can be bad too, so a stop is no less likely; but a safety part or a limit that is reached is not left: "
            f"do it early enough to run the new parts in, some {BED_IN_KM:.0f} km."
        )
    if avoided <= 0:
        return "This work makes a stop no less likely: new parts can be bad too. Leave it, and carry spares."
    if not bedded_in:
        return f"Do it early enough to run the new parts in, some {BED_IN_KM:.0f} km: not the day before."
    return ""


def _check(
    parts: Sequence[TourPart], km: float, days: float, packages: Mapping[str, Collection[str]]
) -> None:
    if not math.isfinite(km) or km < 0:
        raise InputError("km", "a distance of 0 km or more", km)
    if not 0 < days <= LONGEST_DAYS:
        raise InputError("days", f"above 0 and up to {LONGEST_DAYS} days", days)
    names = [part.name for part in parts]
    if len(set(names)) < len(names):
        raise InputError("parts", "a name of its own for each part", names)
    for part in parts:
        if not 0.0 <= part.roadside_ease <= 1.0:
            raise InputError(f"{part.name}.roadside_ease", "from 0 to 1", part.roadside_ease)
    for package, renewed in packages.items():
        for name in renewed:
            if name not in names:
                raise InputError(f"packages.{package}", f"parts of this car ({', '.join(names)})", name)
