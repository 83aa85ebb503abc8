"""A part fitted nobody knows when: its chance of failing averages over the days on which it may have been fitted."""

import math
from datetime import date

import pytest
from scipy.integrate import quad

from api.bridge.forecasts.clocks import Counted
from api.bridge.forecasts.unknown_age import chance_ahead
from planner.life.model import known_life
from tests.api.history.making import car, fitment, items, odometer

TODAY = date(2026, 1, 1)


def part(earliest, latest, km=(0.0, 0.0, 0.0)):
    return Counted(earliest, latest, latest, km, age_unknown=True)


def test_without_wear_the_age_does_not_matter():
    life = known_life(age=(1.0, 20.0))
    chance = chance_ahead(life, part(date(1970, 1, 1), date(2015, 1, 1)), (TODAY, 0.0), (0.0, 1.0))
    assert chance.mean == pytest.approx(1 - math.exp(-1 / 20), rel=1e-9)
    assert chance.low == pytest.approx(chance.high)


def test_with_wear_each_age_weighs_as_much_as_it_survives():
    """Against the integral itself: ages from 11 to 56 years, uniform, weighted by survival."""
    shape, scale = 2.0, 15.0

    def survival(age):
        return math.exp(-((age / scale) ** shape))

    lost, _ = quad(lambda age: survival(age) - survival(age + 1), 11.0, 56.0)
    kept, _ = quad(survival, 11.0, 56.0)
    possible = part(date(1969, 12, 31), date(2014, 12, 31))
    chance = chance_ahead(known_life(age=(shape, scale)), possible, (TODAY, 0.0), (0.0, 1.0))
    assert chance.mean == pytest.approx(lost / kept, rel=0.01)
    oldest = 1 - survival(57) / survival(56)
    assert chance.mean < 0.6 * oldest


def test_distance_runs_with_the_fitting_day():
    """At a steady pace distance alone says what age alone says."""
    possible = part(date(1996, 1, 1), date(2016, 1, 1), km=(0.0, 20_000.0, 40_000.0))
    by_age = chance_ahead(known_life(age=(2.0, 15.0)), possible, (TODAY, 60_000.0), (2_000.0, 1.0))
    by_km = chance_ahead(known_life(distance=(2.0, 30_000.0)), possible, (TODAY, 60_000.0), (2_000.0, 1.0))
    assert by_km.mean == pytest.approx(by_age.mean, rel=1e-3)


def test_in_the_service_it_is_worse_than_a_recent_one_and_not_certain(client):
    vehicle = car(client, built="1968")
    odometer(client, vehicle, "2015-01-01", 60_000)
    odometer(client, vehicle, "2025-01-01", 70_000)
    fitment(client, vehicle, "brake_hose", None, position="front left")
    fitment(client, vehicle, "brake_hose", "2024-01-01", position="front right")
    path = f"/v1/vehicles/{vehicle}/risk"
    found = client.get(path, params={"as_of": "2026-01-01", "days": 365}).json()
    chances = {one["position"]: one["chance"]["mean"] for one in found["contributors"]}
    assert 3 * chances["front right"] < chances["front left"]
    due = items(client, f"/v1/vehicles/{vehicle}/due-soon", as_of="2026-01-01", within_days=0)
    (old,) = [one for one in due if one["position"] == "front left"]
    assert old["status"] == "due now"
    assert 0.02 < old["chance_to_window_end"]["mean"] < 0.6
