"""The invented makes and models, and the parts that papers of each may speak of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Slot = tuple[str, str | None]
"""A part kind in a position: ("tyres", "front axle")."""


@dataclass(frozen=True)
class Model:
    """One of the firm's models: what its cars have in common."""

    make: str
    name: str
    system: Literal["points", "electronic distributor", "injection"]
    dial_digits: int
    always: tuple[Slot, ...]
    sometimes: tuple[Slot, ...]


_BRAKES: tuple[Slot, ...] = (
    ("brake_fluid", None),
    ("brake_hose", None),
    ("brake_pads", "front axle"),
    ("tyres", "front axle"),
    ("tyres", "rear axle"),
    ("battery", None),
)
_COOLING: tuple[Slot, ...] = (("thermostat", None), ("radiator", None), ("coolant_hose", "top"))
_SPARK: tuple[Slot, ...] = (("distributor_cap", None), ("rotor_arm", None), ("ht_leads", None))
_POINTS: tuple[Slot, ...] = (("contact_points", None), ("condenser", None), ("spark_plugs_ni", None))
_OLD_EXTRAS: tuple[Slot, ...] = (
    ("ignition_coil", None),
    ("starter_motor", None),
    ("fuel_pump_mech", None),
    ("fuel_hose_lp", "tank to pump"),
    ("v_belt", None),
    ("water_pump", None),
    ("coolant", None),
    ("brake_seals", "rear axle"),
    ("brake_shoes", "rear axle"),
    ("exhaust", None),
    ("damper", "front axle"),
)
_LATER_EXTRAS: tuple[Slot, ...] = (
    ("fuel_filter", None),
    ("coolant", None),
    ("coolant_temp_sensor", None),
    ("starter_motor", None),
    ("cv_gaiter", "left outer"),
    ("suspension_bush", "front lower arms"),
    ("balljoint", "front left"),
    ("brake_seals", "front axle"),
    ("exhaust", None),
    ("damper", "rear axle"),
)
_INJECTION: tuple[Slot, ...] = (("spark_plugs_pt", None), ("timing_belt", None), ("alternator_brushes", None))
_INJECTION_EXTRAS: tuple[Slot, ...] = (
    ("water_pump", None),
    ("air_flow_meter", None),
    ("crank_sensor", None),
    ("lambda_heated", None),
    ("fuel_pump_electric", None),
    ("fuel_hose_hp", "rail feed"),
    ("relay", "fuel pump"),
    ("throttle_actuator", None),
    ("ribbed_belt", None),
)

NUTMEG = Model("Pellwick", "Nutmeg roadster", "points", 5, _SPARK + _POINTS + _BRAKES, _OLD_EXTRAS + _COOLING)
CARDAMOM = Model(
    "Pellwick", "Cardamom coupé", "points", 5, _SPARK + _POINTS + _BRAKES, _OLD_EXTRAS + _COOLING
)
HAMPER = Model(
    "Brindlecott", "Hamper van", "points", 5, _POINTS + _BRAKES + (("v_belt", None),), _OLD_EXTRAS + _COOLING
)
OXBOW = Model(
    "Harrowdune",
    "Oxbow estate",
    "electronic distributor",
    6,
    (
        *_BRAKES,
        *_COOLING,
        ("fan_switch", None),
        *_SPARK,
        ("spark_plugs_ni", None),
        ("timing_belt", None),
        ("water_pump", None),
        ("alternator_brushes", None),
    ),
    (*_LATER_EXTRAS, ("ignition_module", None), ("fuel_pump_mech", None)),
)
QUADRILLE = Model(
    "Vessmark",
    "Quadrille coupé",
    "injection",
    6,
    (*_BRAKES, *_COOLING, ("fan_switch", None), *_INJECTION),
    _LATER_EXTRAS + _INJECTION_EXTRAS,
)
MERINGA = Model(
    "Zuccavento",
    "Meringa roadster",
    "injection",
    6,
    _BRAKES + _INJECTION,
    _LATER_EXTRAS + _INJECTION_EXTRAS + _COOLING,
)
