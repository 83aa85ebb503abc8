"""A car that eats parts shows it on the life page, and its own forecasts go by a life fitted together with how much cars differ."""

from itertools import pairwise

import pytest

from tests.api.history.making import car, fitment, odometer, refit, removal

KIND = "damper"
LIFE = f"/v1/part-kinds/{KIND}/life"


def shown(year):
    """What the dial showed on new year's day: 10,000 km a year."""
    return 10_000 * (year - 2000)


def driven(client, name):
    vehicle = car(client, name=name, built="2000", joined_on="2001-01-01")
    for year in (2001, 2025):
        odometer(client, vehicle, f"{year}-01-01", shown(year))
    return vehicle


def renewed(client, vehicle, years):
    """Parts fitted new one after another, each failing in its turn; the last one is still good."""
    for first, last in pairwise(years):
        part = fitment(client, vehicle, KIND, f"{first}-01-01", shown(first))
        removal(client, part, f"{last}-01-01", "failed, confirmed", shown(last))
    return fitment(client, vehicle, KIND, f"{years[-1]}-01-01", shown(years[-1]))


@pytest.fixture
def fleet_of_nine(client):
    """Eight cars whose dampers last some ten years, and one that eats a set every three."""
    common = [driven(client, f"common {number}") for number in range(8)]
    for number, vehicle in enumerate(common):
        renewed(client, vehicle, (2002, 2013 + number % 3, 2024))
    eater = driven(client, "eater")
    renewed(client, eater, (2002, 2005, 2008, 2011, 2014, 2017, 2020, 2024))
    return common, eater


def interval(client, vehicle):
    found = client.get(f"/v1/vehicles/{vehicle}/schedule", params={"horizon_years": 10}).json()["items"]
    return found[-1]


def suspected(client, vehicle):
    """The damper as a suspect for a knock in front."""
    body = {"complaint": "wander_or_knock", "last_ran_well": "2025-06-01", "noted_on": "2025-12-01"}
    case = client.post(f"/v1/vehicles/{vehicle}/fault-findings", json=body).json()
    return case["ranking"]["suspects"][0]


def test_the_life_page_names_the_car_and_its_forecasts_go_by_its_own_life(fleet, client, fleet_of_nine):
    common, eater = fleet_of_nine
    assert client.get(LIFE).json()["cars_differ"] is None
    job = refit(fleet, client, KIND)
    assert job["state"] == "succeeded", job
    differ = client.get(LIFE).json()["cars_differ"]
    assert (differ["cars"], differ["failures"]) == (9, 23)
    first = differ["notable"][0]
    assert first["vehicle_id"] == eater
    assert first["failures"] == 7
    assert first["expected"] < 5
    assert 1 < first["low"] < first["mean"] < first["high"]
    assert first["words"].startswith(
        f"×{first['mean']:.1f}, from 7 failures where {first['expected']:.1f} were expected"
    )
    worn, plain = interval(client, eater), interval(client, common[0])
    assert worn["reason"].find("This car eats such parts: ×") >= 0
    assert "This car" not in plain["reason"] or "easy on such parts" in plain["reason"]
    assert worn["interval"]["years"] < plain["interval"]["years"]
    dearest, other = (suspected(client, vehicle) for vehicle in (eater, common[0]))
    assert dearest["car_ratio"] > other["car_ratio"]  # both fitted on the same day, driven alike


def test_a_fleet_of_too_few_failures_says_nothing_of_its_cars(fleet, client):
    for number in range(6):
        renewed(client, driven(client, f"common {number}"), (2002, 2013) if number < 3 else (2002,))
    refit(fleet, client, KIND)
    assert client.get(LIFE).json()["cars_differ"] is None
