"""A GET reads forecasts and does arithmetic: no fit, no table, no history is touched, however the answer is asked for."""

from datetime import date

import pytest

from api.bridge import gather, keep
from api.bridge.forecasts import measured
from api.bridge.in_force import book_lives, tables
from api.bridge.learning import fitted, learn
from planner.interval import optimum
from tests.api.history.making import car, fitment, odometer, removal

AS_OF = date(2026, 10, 1)


def forbidden(*_args, **_options):
    raise AssertionError("a read worked something out that it should have found")


@pytest.fixture
def vehicle(client):
    found = car(client, circumstances=["short_trips", "damp_outdoors"])
    odometer(client, found, "2020-01-01", 60_000)
    fitment(client, found, "rotor_arm", "2019-01-01")
    past = fitment(client, found, "distributor_cap", "2016-01-01")
    removal(client, past, "2019-01-01", "preventive")
    return found


@pytest.mark.parametrize(
    "path",
    [
        "/v1/due-soon?as_of=2026-10-01&within_days=3660",
        "/v1/vehicles/{vehicle}/due-soon?as_of=2026-10-01",
        "/v1/vehicles/{vehicle}/schedule?as_of=2030-01-01&horizon_years=10",
        "/v1/vehicles/{vehicle}/risk?as_of=2026-10-01&days=60&distance=2000&unit=mi",
        "/v1/vehicles/{vehicle}/tour-risk?distance=2000",
        "/v1/vehicles/{vehicle}/visits?as_of=2026-10-01&within_years=2",
        "/v1/vehicles/{vehicle}/policies?as_of=2026-10-01",
        "/v1/parts-to-order?as_of=2026-10-01&months=12",
        "/v1/vehicles/{vehicle}/fault-findings",
        "/v1/complaints",
        "/v1/checks",
        "/v1/calendar",
        "/v1/digests",
        "/v1/part-kinds/rotor_arm/rule",
        "/v1/vehicles/{vehicle}/fitments",
        "/v1/part-kinds/rotor_arm/life",
        "/v1/part-kinds/rotor_arm/settings",
        "/v1/part-kinds",
    ],
)
def test_reads_work_with_everything_that_fits_taken_away(reading, vehicle, monkeypatch, path):
    before = reading.get(path.format(vehicle=vehicle))
    assert before.status_code == 200, before.text
    for place, name in (
        (tables, "make"),
        (book_lives, "book_life"),
        (tables, "interval_table"),
        (tables, "ways_table"),
        (optimum, "cost_curve"),
        (fitted, "fit_life"),
        (fitted, "fit_modified"),
        (learn, "spells_from"),
        (measured, "wear_path"),
        (measured, "best_wait"),
        (gather, "cars"),
        (keep, "replan"),
        (keep, "timeline"),
        (keep, "yearly_distance"),
    ):
        monkeypatch.setattr(place, name, forbidden)
    again = reading.get(path.format(vehicle=vehicle))
    assert again.status_code == 200, again.text
    assert again.json() == before.json()


def test_the_guard_would_notice(client, vehicle, monkeypatch):
    """The same names taken away stop a write: so the reads above do not pass for want of a guard."""
    monkeypatch.setattr(keep, "yearly_distance", forbidden)
    body = {"read_on": "2021-01-01", "reading": {"value": 61_000, "unit": "km"}}
    assert client.post(f"/v1/vehicles/{vehicle}/odometer-readings", json=body).status_code == 500
