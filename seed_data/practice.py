"""What the invented firm's workshop does with each kind of part, and how its parts differ from the book."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Gauge:
    """A wear measurement: what a new part shows and where it must come out."""

    unit: str
    new: float
    limit: float


@dataclass(frozen=True)
class Practice:
    """How the workshop treats one kind.

    Attributes:
        life: how many times as long as the book says this fleet's parts really last.
        renew_years, renew_km: the firm's own renewal habit for its garaged cars; the others get half as much again.
            None where it has none.
        gauge: measured at visits; worn out then means found at its limit, not a breakdown.
        looked_worn: chance that a tired part (over 80 % of its life) is renewed by eye at a visit.
        repair: what is done to it at a visit instead of renewing it.
        companions: kinds that come out "while there" when this one does.
        suspects: kinds that get the blame first when this one fails.
        second_hand: chance that the next one comes off another car.
    """

    life: float = 1.0
    renew_years: float | None = None
    renew_km: float | None = None
    gauge: Gauge | None = None
    looked_worn: float = 0.0
    repair: str | None = None
    companions: tuple[str, ...] = ()
    suspects: tuple[str, ...] = ()
    second_hand: float = 0.0


PRACTICE: dict[str, Practice] = {
    "air_flow_meter": Practice(second_hand=0.6, suspects=("lambda_heated", "spark_plugs_pt")),
    "alternator_brushes": Practice(renew_years=13.0, life=0.6, suspects=("battery",)),
    "balljoint": Practice(looked_worn=0.3),
    "battery": Practice(renew_years=6.0, life=1.1, suspects=("alternator_brushes", "starter_motor")),
    "brake_fluid": Practice(renew_years=1.8, gauge=Gauge("% water", 0.2, 3.0)),
    "brake_hose": Practice(renew_years=7.0, looked_worn=0.4, companions=("brake_fluid",)),
    "brake_pads": Practice(renew_km=20000, life=0.9, gauge=Gauge("mm", 11.0, 3.0)),
    "brake_seals": Practice(renew_years=8.0, companions=("brake_fluid",)),
    "brake_shoes": Practice(gauge=Gauge("mm", 5.0, 1.5), repair="adjusted"),
    "condenser": Practice(renew_years=7.0, life=0.8, suspects=("ignition_coil", "contact_points")),
    "contact_points": Practice(
        renew_km=13000, renew_years=5.0, life=0.9, repair="dressed", companions=("condenser",)
    ),
    "coolant": Practice(renew_years=3.0, gauge=Gauge("pH", 8.4, 7.0)),
    "coolant_hose": Practice(renew_years=7.0, looked_worn=0.3, companions=("coolant",)),
    "coolant_temp_sensor": Practice(),
    "crank_sensor": Practice(life=0.6, suspects=("relay", "fuel_pump_electric")),
    "cv_gaiter": Practice(renew_years=8.0, looked_worn=0.5),
    "damper": Practice(renew_km=60000, suspects=("suspension_bush",)),
    "distributor_cap": Practice(
        renew_years=8.0,
        repair="cleaned",
        companions=("rotor_arm",),
        suspects=("ht_leads", "condenser"),
    ),
    "exhaust": Practice(life=0.8, second_hand=0.3),
    "fan_switch": Practice(renew_years=12.0, life=0.7, suspects=("thermostat",)),
    "fuel_filter": Practice(suspects=("fuel_pump_electric",)),
    "fuel_hose_hp": Practice(renew_years=8.0, looked_worn=0.3),
    "fuel_hose_lp": Practice(renew_years=6.0, looked_worn=0.5),
    "fuel_pump_electric": Practice(suspects=("fuel_filter", "relay")),
    "fuel_pump_mech": Practice(life=0.7, suspects=("condenser",)),
    "harness_degr": Practice(),
    "ht_leads": Practice(
        renew_years=8.0, life=0.8, suspects=("spark_plugs_ni", "spark_plugs_pt", "distributor_cap")
    ),
    "ignition_coil": Practice(life=0.7, second_hand=0.4, suspects=("condenser", "contact_points")),
    "ignition_module": Practice(suspects=("rotor_arm",), second_hand=0.5),
    "lambda_heated": Practice(suspects=("spark_plugs_pt",)),
    "radiator": Practice(
        renew_years=13.0,
        life=0.9,
        suspects=("thermostat", "fan_switch", "water_pump"),
        companions=("coolant", "coolant_hose"),
    ),
    "relay": Practice(second_hand=0.3),
    "ribbed_belt": Practice(),
    "rotor_arm": Practice(renew_years=7.0, life=0.8, suspects=("ignition_module", "condenser")),
    "spark_plugs_ni": Practice(renew_km=24000, repair="re-gapped"),
    "spark_plugs_pt": Practice(renew_km=70000, renew_years=9.0),
    "starter_motor": Practice(life=0.8, suspects=("battery",), second_hand=0.3),
    "suspension_bush": Practice(looked_worn=0.3),
    "thermostat": Practice(renew_years=9.0, life=0.85, suspects=("radiator",), companions=("coolant",)),
    "throttle_actuator": Practice(repair="cleaned", second_hand=0.5, suspects=("air_flow_meter",)),
    "timing_belt": Practice(renew_years=5.0, renew_km=70000, companions=("water_pump",)),
    "tyres": Practice(renew_years=7.0, renew_km=27000, gauge=Gauge("mm", 8.0, 2.0)),
    "v_belt": Practice(renew_years=5.0, looked_worn=0.4, repair="adjusted"),
    "water_pump": Practice(
        renew_years=9.0, renew_km=90000, second_hand=0.12, suspects=("thermostat",), companions=("coolant",)
    ),
}
