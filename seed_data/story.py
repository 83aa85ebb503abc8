"""What happened to particular cars, written by hand: the fault the demo tells of, and the odd accident."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from seed_data.models import Slot


@dataclass(frozen=True)
class Fault:
    """A part that fails on a set day, perhaps after others had been renewed on suspicion without cure.

    Attributes:
        day: when it fails.
        blamed: what was renewed first, each with its note.
        cure_note: what stands on the bill that cured it.
        found_at: its age in years when the papers begin, between these.
    """

    day: date
    blamed: tuple[tuple[Slot, str], ...]
    cure_note: str
    found_at: tuple[float, float] = (10.0, 15.0)


RADIATOR: Slot = ("radiator", None)
THERMOSTAT: Slot = ("thermostat", None)
FAN_SWITCH: Slot = ("fan_switch", None)

FAULTS: dict[tuple[str, Slot], Fault] = {
    ("QD13", RADIATOR): Fault(
        date(2025, 8, 9),
        (
            (THERMOSTAT, "Boils in the station queue, cool on the open road. New thermostat: no change."),
            (
                FAN_SWITCH,
                "Fan came in late, so a new switch. It comes in sooner now and the car still boils.",
            ),
        ),
        "Lower third of the core blocked solid, found with a thermometer gun. Cured.",
    ),
    ("QD15", RADIATOR): Fault(
        date(2023, 7, 22),
        (
            (THERMOSTAT, "Hot in slow traffic. Thermostat renewed on suspicion, no cure."),
            (FAN_SWITCH, "Fan switch renewed on suspicion, no cure."),
        ),
        "Core blocked at the bottom, as on its sister later. Recored unit fitted, cured.",
    ),
    ("QD18", RADIATOR): Fault(
        date(2024, 6, 15),
        ((THERMOSTAT, "Gauge climbs in town. Thermostat renewed on suspicion, gauge still climbs."),),
        "Fins rotted away behind the fan. New radiator, cured.",
    ),
    ("QD04", ("battery", None)): Fault(date(2024, 2, 10), (), "", found_at=(1.0, 2.0)),
}
"""Keyed by car and part: the radiators, blamed last, and a battery that dies while its car is laid up."""


@dataclass(frozen=True)
class Mishap:
    """A removal that has nothing to do with wear; `used_next` where a part off another car took its place."""

    car: str
    slot: Slot
    day: date
    reason: str
    note: str
    renewed: bool = True
    used_next: bool = False


MISHAPS: tuple[Mishap, ...] = (
    Mishap(
        "QD16", RADIATOR, date(2024, 2, 22), "accident", "Reversed into by a lighting truck.", used_next=True
    ),
    Mishap("QD10", ("battery", None), date(2022, 11, 12), "theft", "Gone overnight at the location."),
    Mishap(
        "QD08",
        ("contact_points", None),
        date(2024, 4, 2),
        "upgrade",
        "Electronic trigger fitted.",
        renewed=False,
    ),
    Mishap("QD08", ("condenser", None), date(2024, 4, 2), "upgrade", "Not wanted any more.", renewed=False),
    Mishap(
        "QD06",
        ("v_belt", None),
        date(2023, 5, 18),
        "damaged by another part",
        "Soaked by the front oil seal.",
    ),
    Mishap(
        "QD19", ("fuel_hose_hp", "rail feed"), date(2022, 3, 9), "recall", "Seller called the batch back."
    ),
    Mishap(
        "QD02", ("exhaust", None), date(2025, 3, 11), "sold", "Sound, sold on; a quieter one for church work."
    ),
)

OPEN_CASE = {
    "vehicle": "QD21",
    "complaint": "overheats_in_traffic",
    "last_ran_well": "2026-09-19",
    "noted_on": "2026-11-07",
    "note": "Gauge into the red behind the bride's coach, back to normal on the bypass. Nothing renewed yet.",
    "external_ref": "QD21-F01",
}
"""A complaint that nobody has looked into when the papers end: a fourth car of the story."""
