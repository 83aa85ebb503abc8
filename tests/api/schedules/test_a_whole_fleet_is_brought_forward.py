"""Forecasts brought to new terms in bulk are those that re-planning each car would give."""

import json
from datetime import UTC, date, datetime

import pytest
from sqlmodel import select

from api.bridge import keep
from api.bridge.forecasts.bulk import bring_forward
from api.bridge.in_force import models
from api.jobs import Sessions
from api.storage.session import reading, writing
from api.storage.tables import Forecast, KindSettings
from tests.api.history.making import car, fitment, made, odometer

KIND = "v_belt"
COLUMNS = (
    "due_earliest",
    "due_likely",
    "due_latest",
    "decides",
    "run_to_failure",
    "model_id",
    "as_of",
    "reason",
)


@pytest.fixture
def vehicles(client):
    """Cars of every sort: much and little driven, of unknown age, with a limit of its own, found worn, never read."""
    found = []
    for number in range(8):
        vehicle = car(client, name=f"car {number}", distance_unit="mi" if number % 2 else "km")
        for year in range(2018, 2027):
            odometer(
                client, vehicle, f"{year}-01-01", 50_000 + 300 * 2**number * (year - 2018), dial_digits=7
            )
        fitment(client, vehicle, KIND, None if number % 3 == 0 else f"{2014 + number}-06-01")
        found.append(vehicle)
    limited = fitment(client, found[1], KIND, "2024-01-01", position="second", cap={"years": 1.5})
    part = fitment(client, found[2], KIND, "2024-01-01", position="second")
    made(
        client.post(
            f"/v1/fitments/{part}/inspections", json={"inspected_on": "2026-01-01", "finding": "failed"}
        )
    )
    fitment(client, car(client, name="never read"), KIND, "2020-01-01")
    assert limited
    return found


def stored(service, fleet):
    with reading(service.database) as session:
        rows = session.exec(select(Forecast).where(Forecast.fleet_id == fleet.id, Forecast.kind == KIND))
        return {row.fitment_id: row.model_copy(deep=True) for row in rows}


def new_terms(service, fleet):
    with writing(service.database) as session:
        session.add(
            KindSettings(
                fleet_id=fleet.id, kind=KIND, planned=30.0, failure=400.0, cap_years=5.0, max_risk=0.3
            )
        )


def nothing(done, total, doing=""):
    """A progress callable that keeps nothing."""


def test_bulk_and_one_by_one_agree(service, fleet, client, vehicles):
    before = stored(service, fleet)
    new_terms(service, fleet)
    assert bring_forward(Sessions(service.database), fleet.id, KIND, nothing) == 9
    bulk = stored(service, fleet)
    with writing(service.database) as session:
        for row in session.exec(select(Forecast).where(Forecast.fleet_id == fleet.id)):
            session.delete(row)
        session.flush()
        cars = sorted({row.vehicle_id for row in bulk.values()})
        keep.replan(session, fleet.id, cars, next(iter(bulk.values())).as_of)
    alone = stored(service, fleet)
    assert bulk.keys() == alone.keys() == before.keys()
    assert any(bulk[name].due_likely != before[name].due_likely for name in bulk)
    for name, one in bulk.items():
        other = alone[name]
        for column in COLUMNS[:-1]:
            assert getattr(one, column) == getattr(other, column), (column, one.reason, other.reason)
        assert one.coefficients.keys() == other.coefficients.keys()
        for key, value in one.coefficients.items():
            same = (
                pytest.approx(other.coefficients[key], rel=1e-9)
                if isinstance(value, float)
                else other.coefficients[key]
            )
            assert value == same, key
        assert one.reason.split(":")[0][:8] == other.reason.split(":")[0][:8]
        assert one.version == before[name].version + 1


def test_cars_with_a_tour_ahead_and_cars_without_are_written_together(service, fleet, client, vehicles):
    today = datetime.now(UTC).date()
    tour = {"what": "tour", "starts_on": f"{today.year + 1}-06-01", "ends_on": f"{today.year + 1}-06-20"}
    for vehicle in (
        *vehicles[:3],
        *vehicles[6:],
    ):  # rows are taken in order: both sorts come before the other
        body = tour | {"distance": {"value": 3000, "unit": "km"}}
        made(client.post(f"/v1/vehicles/{vehicle}/planned-use", json=body))
    before = stored(service, fleet)
    new_terms(service, fleet)
    assert bring_forward(Sessions(service.database), fleet.id, KIND, nothing) == 9
    after = stored(service, fleet)
    assert {row.as_of for row in after.values()} == {row.as_of for row in before.values()}
    assert all(after[name].version == before[name].version + 1 for name in before)


def test_what_is_up_to_date_is_left_alone(service, fleet, client, vehicles):
    before = stored(service, fleet)
    assert bring_forward(Sessions(service.database), fleet.id, KIND, nothing) == 0
    after = stored(service, fleet)
    assert {name: row.version for name, row in after.items()} == {
        name: row.version for name, row in before.items()
    }


def test_no_day_in_bulk_is_past_a_hard_cap(service, fleet, client, vehicles):
    new_terms(service, fleet)
    bring_forward(Sessions(service.database), fleet.id, KIND, nothing)
    with writing(service.database) as session:
        force = models.in_force(session, fleet.id, [KIND])[KIND]
    assert force.terms.cap.years == 5
    for row in stored(service, fleet).values():
        limit = date.fromisoformat(json.loads(json.dumps(row.coefficients))["limit"])
        assert row.due_likely <= limit
        assert row.due_latest <= limit
