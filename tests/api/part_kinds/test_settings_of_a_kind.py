"""A fleet's settings for a kind: the catalogue's where it says nothing, applied by a job, never past a limit."""

import json
from datetime import date

import pytest

from planner.catalogue import load_catalogue
from planner.interval import default_costs
from tests.api.history.counting import rows_of
from tests.api.history.making import car, fitment, items, odometer, problem, refit, settle

AS_OF = date(2026, 10, 1)
PATH = "/v1/part-kinds/rotor_arm/settings"


@pytest.fixture
def part(client):
    vehicle = car(client)
    odometer(client, vehicle, "2020-01-01", 50_000)
    odometer(client, vehicle, "2024-01-01", 58_000)
    return fitment(client, vehicle, "rotor_arm", "2023-01-01")


def item(client):
    (found,) = items(client, "/v1/due-soon", as_of=AS_OF, within_days=3660)
    return found


def test_without_settings_the_catalogue_speaks(client):
    found = client.get(PATH).json()
    costs = default_costs(load_catalogue()["rotor_arm"])
    assert (found["prior"], found["clocks"], found["costs"], found["cap"], found["job"]) == (
        "book",
        None,
        None,
        None,
        None,
    )
    assert found["in_force"]["clocks"] == ["distance", "age"]
    expected = {"planned": costs.planned, "failure": costs.failure, "currency": "GBP", "basis": "book"}
    assert found["in_force"]["costs"] == expected


def test_settings_come_back_as_they_were_put(client, stranger):
    body = {
        "prior": "none",
        "clocks": ["distance"],
        "costs": {"planned": 20, "failure": 300},
        "new_part_fault": 0.01,
        "cap": {"distance": {"value": 20_000, "unit": "mi"}, "years": 6},
        "max_risk": 0.2,
    }
    put = client.put(PATH, json=body)
    assert put.status_code == 200, put.text
    found = client.get(PATH)
    assert found.headers["ETag"] == put.headers["ETag"]
    shown = found.json()
    assert {name: shown[name] for name in body if name != "costs"} == {
        n: v for n, v in body.items() if n != "costs"
    }
    assert shown["costs"] == {"planned": 20, "failure": 300, "currency": "GBP", "basis": "own"}
    assert stranger.get(PATH).json()["prior"] == "book"
    client.put(PATH, json={})
    assert client.get(PATH).json()["costs"] is None


def test_if_match_is_heeded_where_it_is_sent(client):
    tag = client.put(PATH, json={}).headers["ETag"]
    assert client.put(PATH, json={"max_risk": 0.3}, headers={"If-Match": tag}).status_code == 200
    problem(client.put(PATH, json={"max_risk": 0.4}, headers={"If-Match": tag}), 412)
    assert client.get(PATH).json()["max_risk"] == 0.3


def test_dearer_failures_bring_the_date_forward_and_say_whose_costs_they_are(fleet, client, part):
    before = item(client)
    costs = before["cost"]
    settle(
        fleet,
        client.put(PATH, json={"costs": {"planned": costs["planned"], "failure": 20 * costs["failure"]}}),
    )
    after = item(client)
    assert after["window"]["likely"] < before["window"]["likely"]
    assert (before["cost"]["basis"], after["cost"]["basis"]) == ("book", "own")
    settle(fleet, client.put(PATH, json={}))
    assert item(client) == before


def test_a_risk_limit_decides_where_it_comes_first(fleet, client, part):
    settle(fleet, client.put(PATH, json={"max_risk": 0.06}))
    found = item(client)
    assert found["decides"] == "risk limit"
    assert found["window"]["likely"] == found["window"]["latest"]


def test_a_cap_decides_where_it_comes_first(fleet, client, part):
    settle(fleet, client.put(PATH, json={"cap": {"years": 4}}))
    found = item(client)
    assert (found["decides"], found["window"]["latest"]) == ("cap", "2027-01-01")


def test_the_same_terms_need_no_work(fleet, client, part):
    settle(fleet, client.put(PATH, json={"max_risk": 0.2}))
    assert client.put(PATH, json={"max_risk": 0.2}).json()["job"] is None
    assert client.put(PATH, json={"max_risk": 0.2, "prior": "none"}).json()["job"] is None


def test_prior_and_clocks_take_effect_with_the_next_refit(fleet, client, part):
    settle(fleet, client.put(PATH, json={"clocks": ["age"]}))
    assert client.get("/v1/part-kinds/rotor_arm/life").json()["clocks"] == ["distance", "age"]
    assert refit(fleet, client, "rotor_arm")["state"] == "succeeded"
    life = client.get("/v1/part-kinds/rotor_arm/life").json()
    assert (life["clocks"], life["distance"]) == (["age"], None)
    assert "only age wears it" in item(client)["clocks"]["words"]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"prior": "guess"}, "prior"),
        ({"clocks": []}, "clocks"),
        ({"clocks": ["distance", "distance"]}, "clocks"),
        ({"clocks": ["starts"]}, "clocks.0"),
        ({"costs": {"planned": 20}}, "costs.failure"),
        ({"costs": {"planned": 20, "failure": 10}}, "costs.failure"),
        ({"costs": {"planned": 0, "failure": 10}}, "costs.planned"),
        ({"costs": {"planned": float("nan"), "failure": 10}}, "costs.planned"),
        ({"new_part_fault": 1}, "new_part_fault"),
        ({"new_part_fault": -0.1}, "new_part_fault"),
        ({"cap": {"years": -1}}, "cap.years"),
        ({"cap": {"distance": {"value": 0, "unit": "km"}}}, "cap.distance.value"),
        ({"cap": {"distance": {"value": 5, "unit": "ell"}}}, "cap.distance.unit"),
        ({"max_risk": 0}, "max_risk"),
        ({"max_risk": float("inf")}, "max_risk"),
        ({"max_risk": 0.01, "new_part_fault": 0.02}, "max_risk"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_bad_settings_are_refused_whole(fleet, client, body, field):
    client.put(PATH, json={"max_risk": 0.25})
    before = rows_of(fleet)
    problem(
        client.request("PUT", PATH, content=json.dumps(body), headers={"Content-Type": "application/json"}),
        422,
        field,
    )
    assert rows_of(fleet) == before


def test_a_risk_limit_below_the_catalogues_fault_rate_is_a_conflict(client):
    problem(client.put(PATH, json={"max_risk": 0.0001}), 409, "max_risk")
    kind = next(k for k in load_catalogue().values() if k.max_risk is not None)
    problem(
        client.put(f"/v1/part-kinds/{kind.id}/settings", json={"new_part_fault": 0.9}), 409, "new_part_fault"
    )


def test_a_clock_that_the_kind_does_not_have(client):
    problem(client.put("/v1/part-kinds/battery/settings", json={"clocks": ["distance"]}), 409, "clocks")


def test_an_unknown_kind_has_no_address(client):
    for method, path in (
        ("GET", ""),
        ("GET", "/life"),
        ("GET", "/settings"),
        ("PUT", "/settings"),
        ("POST", "/refits"),
    ):
        body = {} if method == "PUT" else None
        found = problem(client.request(method, f"/v1/part-kinds/rotor_arms{path}", json=body), 404)
        assert "rotor_arm" in found["detail"]
