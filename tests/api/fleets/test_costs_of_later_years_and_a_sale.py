"""A discount rate and the sale of a car change what money decides; no hard cap, no risk limit, no safety part."""

from datetime import UTC, datetime, timedelta

import pytest

from tests.api.history.making import car, fitment, items, made, odometer, problem

TODAY = datetime.now(UTC).date()


@pytest.fixture
def vehicle(client):
    found = car(client, distance_unit="km")
    for year in range(2018, TODAY.year + 1):
        odometer(client, found, f"{year}-01-01", 60_000 + 4_000 * (year - 2018), "km", dial_digits=6)
    return found


def listed(client, vehicle, part):
    found = items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
    return next(one for one in found if one["fitment_id"] == part)


def sell(client, vehicle, day):
    tag = client.get(f"/v1/vehicles/{vehicle}").headers["ETag"]
    changed = client.patch(f"/v1/vehicles/{vehicle}", json={"sell_on": day}, headers={"If-Match": tag})
    return changed.raise_for_status().json()


def new(client, vehicle, kind, years=1, **more):
    return fitment(client, vehicle, kind, (TODAY - timedelta(days=365 * years)).isoformat(), **more)


def test_what_does_not_pay_off_before_the_sale_is_left(client, vehicle):
    part = new(client, vehicle, "rotor_arm", years=2)
    before = listed(client, vehicle, part)
    assert before["window"]["likely"] > TODAY.isoformat()
    sell(client, vehicle, (TODAY + timedelta(days=400)).isoformat())
    after = listed(client, vehicle, part)
    assert after["status"] == "run to failure"
    assert "to be sold" in after["reason"]
    sell(client, vehicle, None)
    assert listed(client, vehicle, part)["window"] == before["window"]


def test_a_sale_far_off_changes_hardly_anything(client, vehicle):
    part = new(client, vehicle, "rotor_arm", years=2)
    before = listed(client, vehicle, part)["window"]
    sell(client, vehicle, (TODAY + timedelta(days=365 * 40)).isoformat())
    after = listed(client, vehicle, part)["window"]
    apart = datetime.fromisoformat(after["likely"]) - datetime.fromisoformat(before["likely"])
    assert abs(apart.days) < 0.4 * 365 * 2


def test_a_sale_moves_no_hard_cap_no_risk_limit_and_no_safety_part(client, vehicle):
    safe = new(client, vehicle, "brake_hose", years=4)
    capped = new(client, vehicle, "rotor_arm", years=2, cap={"years": 5})
    risky = new(client, vehicle, "timing_belt", years=2)
    before = [listed(client, vehicle, part)["window"] for part in (safe, capped, risky)]
    sell(client, vehicle, (TODAY + timedelta(days=200)).isoformat())
    after = [listed(client, vehicle, part)["window"] for part in (safe, capped, risky)]
    assert after[0] == before[0]
    assert after[1]["limit"] == before[1]["limit"]
    assert after[1]["likely"] <= before[1]["limit"]
    assert after[2] == before[2]


def test_visits_leave_out_what_the_sale_leaves_out(client, vehicle):
    part = new(client, vehicle, "rotor_arm", years=2)
    sell(client, vehicle, (TODAY + timedelta(days=400)).isoformat())
    found = client.get(f"/v1/vehicles/{vehicle}/visits", params={"within_years": 2}).raise_for_status().json()
    assert found["visits"] == []
    assert [one["fitment_id"] for one in found["leave_alone"]] == [part]


def test_a_discount_rate_puts_off_what_only_saves_money_and_moves_no_limit(client, fleet, vehicle):
    part, capped = new(client, vehicle, "rotor_arm"), new(client, vehicle, "coolant_hose", cap={"years": 1.5})
    before = [listed(client, vehicle, one)["window"] for one in (part, capped)]
    made(client.post(f"/v1/vehicles/{vehicle}/planned-use", json=far_tour()))
    with_plan = listed(client, vehicle, part)["window"]
    answer = client.patch("/v1/fleet", json={"discount_rate": 0.2}, headers={"If-Match": "*"})
    jobs = answer.raise_for_status().json()["jobs"]
    assert len(jobs) == 2
    assert all(fleet.wait_for_job(job)["state"] == "succeeded" for job in jobs)
    after = [listed(client, vehicle, one)["window"] for one in (part, capped)]
    assert after[0]["likely"] > before[0]["likely"]
    assert after[0]["likely"] > with_plan["likely"]
    assert after[1]["limit"] == before[1]["limit"]
    assert after[1]["likely"] <= before[1]["limit"]
    again = client.patch("/v1/fleet", json={"discount_rate": 0.2}, headers={"If-Match": "*"})
    assert again.json()["jobs"] == []


def far_tour():
    start = TODAY + timedelta(days=500)
    return {
        "what": "tour",
        "starts_on": start.isoformat(),
        "ends_on": (start + timedelta(days=9)).isoformat(),
        "distance": {"value": 400, "unit": "km"},
    }


@pytest.mark.parametrize("rate", [-0.01, 0.51, "3 %", None])
def test_rates_that_make_no_sense_are_refused(client, rate):
    refused = client.patch("/v1/fleet", json={"discount_rate": rate}, headers={"If-Match": "*"})
    assert problem(refused, 422)["field"] == "discount_rate"
    assert client.get("/v1/fleet").json()["discount_rate"] == 0


def test_each_fleet_has_its_own_rate(client, stranger):
    client.patch("/v1/fleet", json={"discount_rate": 0.1}, headers={"If-Match": "*"}).raise_for_status()
    assert stranger.get("/v1/fleet").json()["discount_rate"] == 0


def test_reading_is_not_enough_to_change_it(reading):
    refused = reading.patch("/v1/fleet", json={"discount_rate": 0.1}, headers={"If-Match": "*"})
    assert refused.status_code == 403
