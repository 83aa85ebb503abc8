"""Invented cars with a complaint, and short ways to open, follow and close a case."""

from datetime import UTC, datetime, timedelta

from tests.api.history.making import car, fitment, made, odometer

TODAY = datetime.now(UTC).date()
WELL = (TODAY - timedelta(days=90)).isoformat()
DAMP = {"ht_leads": 16, "distributor_cap": 2, "rotor_arm": 2, "spark_plugs_ni": 3, "ignition_coil": 15}
"""Ages in years of the damp-morning car: leads and coil old, cap young."""

HOT = {
    "cam_hall_sensor": 45, "ignition_coil": 20, "condenser": 6, "ignition_module": 15, "relay": 12,
    "fuel_pump_electric": 10, "fuel_accumulator": 10, "fuel_hose_hp": 5, "coolant_temp_sensor": 12, "rotor_arm": 4,
    "ht_leads": 5,
}  # fmt: skip


def years_ago(years):
    return (TODAY - timedelta(days=round(365.25 * years))).isoformat()


def car_with(client, ages, system="points"):
    """A car that does 2,000 km a year, and its parts by kind."""
    vehicle = car(client, system=system, built="1968", joined_on="1999-01-01")
    for year in range(TODAY.year - 12, TODAY.year + 1):
        odometer(client, vehicle, f"{year}-01-01", 100_000 + 2_000 * (year - TODAY.year))
    return vehicle, {kind: fitment(client, vehicle, kind, years_ago(age)) for kind, age in ages.items()}


def opened(client, vehicle, complaint="misfire_in_damp", **fields):
    body = {"complaint": complaint, "last_ran_well": WELL} | fields
    return made(client.post(f"/v1/vehicles/{vehicle}/fault-findings", json=body))


def step(client, case, **fields):
    return made(client.post(f"/v1/fault-findings/{case['id']}/steps", json=fields))


def closed(client, case, **fields):
    return made(client.post(f"/v1/fault-findings/{case['id']}/closing", json=fields))


def suspect(case, part):
    """The suspect that is this fitment."""
    return next(one for one in case["ranking"]["suspects"] if one["fitment_id"] == part)


def chances(case):
    return {one["kind"]: one["chance"] for one in case["ranking"]["suspects"]}
