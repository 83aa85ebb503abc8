"""Fixtures: visitors signed in with each scope, and a car with a part."""

import pytest

from tests.api.pages.visiting import Visitor


@pytest.fixture
def stranger_at_the_door(service):
    """Somebody with a browser and no key."""
    return Visitor(service.base_url)


@pytest.fixture
def keeper(service, fleet):
    """Somebody signed in with the fleet's write key."""
    found = Visitor(service.base_url)
    assert found.sign_in(fleet.keys["write"]).status == 200
    return found


@pytest.fixture
def onlooker(service, fleet):
    """Somebody signed in with the fleet's read key."""
    found = Visitor(service.base_url)
    assert found.sign_in(fleet.keys["read"]).status == 200
    return found


@pytest.fixture
def car(client):
    """A car with a reading."""
    made = client.post(
        "/v1/vehicles", json={"name": "Hector", "distance_unit": "mi", "built": "1967", "system": "points"}
    )
    assert made.status_code == 201, made.text
    reading = {"read_on": "2024-05-12", "reading": {"value": 52_000, "unit": "mi"}}
    assert client.post(f"/v1/vehicles/{made.json()['id']}/odometer-readings", json=reading).status_code == 201
    return made.json()["id"]


@pytest.fixture
def part(client, car):
    """A rotor arm on it."""
    body = {"kind": "rotor_arm", "fitted_on": "2021-03-01", "odometer": {"value": 48_000, "unit": "mi"}}
    made = client.post(f"/v1/vehicles/{car}/fitments", json=body)
    assert made.status_code == 201, made.text
    return made.json()["id"]
