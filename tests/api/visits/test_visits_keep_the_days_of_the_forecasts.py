"""A plan goes by the window that the forecast of each part states: measured parts, cars with a life of their own, repaired parts."""

from datetime import date
from itertools import pairwise

import pytest

from api.bridge.forecasts.outlook import outlooks
from api.bridge.forecasts.plans import driven, own_interval_of, planned_parts, table_behind
from api.schedules import store
from api.storage.session import reading
from planner.schedule import Workshop, plan_car
from tests.api.history.making import car, fitment, items, made, odometer, refit, removal

AS_OF = date(2025, 1, 1)


def shown(year):
    """What the dial showed on new year's day: 10,000 km a year."""
    return 10_000 * (year - 2000)


def driven_car(client, name):
    vehicle = car(client, name=name, built="2000", joined_on="2001-01-01")
    for year in (2001, 2025):
        odometer(client, vehicle, f"{year}-01-01", shown(year))
    return vehicle


def renewed(client, vehicle, kind, years):
    for first, last in pairwise(years):
        part = fitment(client, vehicle, kind, f"{first}-01-01", shown(first))
        removal(client, part, f"{last}-01-01", "failed, confirmed", shown(last))
    return fitment(client, vehicle, kind, f"{years[-1]}-01-01", shown(years[-1]))


@pytest.fixture
def eater(fleet, client):
    """Eight cars whose pads last some ten years, and one that eats a set every three; its pads now are measured."""
    for number in range(8):
        renewed(client, driven_car(client, f"common {number}"), "brake_pads", (2002, 2013 + number % 3, 2024))
    found = driven_car(client, "eater")
    part = renewed(client, found, "brake_pads", (2002, 2005, 2008, 2011, 2014, 2017, 2020, 2023))
    for day, mm in (("2023-06-01", 11.0), ("2024-01-01", 10.0), ("2024-09-01", 9.0)):
        figure = {"value": mm, "unit": "mm", "limit": 3.0}
        body = {"inspected_on": day, "finding": "good", "measurement": figure}
        made(client.post(f"/v1/fitments/{part}/inspections", json=body))
    plain = fitment(client, found, "brake_pads", "2024-01-01", shown(2024), position="rear")
    points = fitment(client, found, "contact_points", "2024-01-01", shown(2024))
    made(
        client.post(f"/v1/fitments/{points}/repairs", json={"repaired_on": "2024-12-01", "action": "cleaned"})
    )
    assert refit(fleet, client, "brake_pads")["state"] == "succeeded"
    return found, part, plain, points


def test_the_first_renewal_of_every_part_has_the_window_of_its_forecast(fleet, client, eater):
    vehicle, measured, plain, points = eater
    said = {
        one["fitment_id"]: one
        for one in items(client, f"/v1/vehicles/{vehicle}/due-soon", as_of=AS_OF, within_days=3_650)
    }
    assert set(said) == {measured, plain, points}
    assert "Measured 9 mm" in said[measured]["reason"]
    assert "This car eats such parts" in said[measured]["reason"]
    assert "This car eats such parts" in said[plain]["reason"]
    assert "less worn" in said[points]["reason"]
    with reading(fleet.service.database) as session:
        parts = outlooks(session, store.all_of_vehicle(session, fleet.id, vehicle), AS_OF)
        planned = planned_parts(session, fleet.id, parts, dict.fromkeys(said, ""))
        own = {
            one.row.fitment_id: own_interval_of(one, table_behind(session, fleet.id, one)) for one in parts
        }
    plan = plan_car(planned, driven(parts, AS_OF), AS_OF, Workshop(50.0, 0), horizon_years=9, visits_within=9)
    for name, one in said.items():
        first = next(renewal for renewal in plan.renewals if (renewal.name, renewal.number) == (name, 1))
        window = one["window"]
        days = (first.window.earliest, first.window.likely, first.window.latest)
        assert [day.isoformat() for day in days] == [window["earliest"], window["likely"], window["latest"]]
    second = [renewal for renewal in plan.renewals if renewal.name == measured]
    years = (second[1].window.likely - second[0].window.likely).days / 365.25
    new = next(part for part in planned if part.name == measured).successor[1]
    assert years == pytest.approx(new, abs=0.01)  # as a new part on this car, not as this one was measured
    shown_ways = client.get(f"/v1/vehicles/{vehicle}/policies", params={"as_of": AS_OF}).json()
    ways = {one["fitment_id"]: {way["name"]: way for way in one["policies"]} for one in shown_ways["items"]}
    for part in (measured, plain):
        assert own[part].years == pytest.approx(
            said[part]["interval"]["years"], rel=0.05
        )  # shown to two figures
        assert ways[part]["renew"]["every"] == pytest.approx(said[part]["interval"]["years"], rel=0.05)
        assert set(ways[part]) <= {"renew", "run without", "run with a spare aboard"}
    assert any("worked out" in note for note in shown_ways["notes"])
