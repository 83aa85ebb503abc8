"""Renew, check, spare, run without: side by side in money per year, and what a limit forbids."""

import pytest

from planner.catalogue import load_catalogue
from planner.interval import compare_policies, default_costs
from planner.life.fit import book_life
from planner.life.prior import book_prior
from tests.api.history.making import car, fitment, odometer, problem, settle


@pytest.fixture
def vehicle(client):
    found = car(client)
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def policies(client, vehicle, part, **query):
    response = client.get(
        f"/v1/vehicles/{vehicle}/policies", params={"fitment": part, "as_of": "2026-10-01"} | query
    )
    assert response.status_code == 200, response.text
    (item,) = response.json()["items"]
    return {**response.json(), **item}


def named(answer):
    return {one["name"]: one for one in answer["policies"]}


def test_costs_are_those_of_the_library(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2022-09-01")
    found = named(policies(client, vehicle, part))
    kind = load_catalogue()["rotor_arm"]
    own = {
        one.name: one
        for one in compare_policies(
            book_life(book_prior(kind), seed=1, draws=400), default_costs(kind), 2_000.0
        )
    }
    for name in ("renew", "run without"):
        assert found[name]["cost_per_year"] == pytest.approx(own[name].cost_per_year, rel=0.06)
    assert found["renew"]["every"] == pytest.approx(own["renew"].years, rel=0.06)
    assert found["run without"]["every"] is None


def test_the_cheapest_comes_first_and_the_rule_of_thumb_beside(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2022-09-01")
    answer = policies(client, vehicle, part)
    costs = [one["cost_per_year"] for one in answer["policies"]]
    assert costs == sorted(costs)
    assert set(named(answer)) == {
        "renew",
        "inspect",
        "run without",
        "run with a spare aboard",
        "rule of thumb",
    }
    assert (
        named(answer)["run with a spare aboard"]["cost_per_year"]
        < named(answer)["run without"]["cost_per_year"]
    )


def test_a_capped_part_may_only_be_renewed(client, vehicle):
    part = fitment(client, vehicle, "tyres", "2022-09-01", position="front left")
    answer = policies(client, vehicle, part)
    allowed = {one["name"] for one in answer["policies"] if one["allowed"]}
    assert allowed <= {"renew", "rule of thumb"}
    assert answer["policies"][0]["allowed"] is True
    assert answer["safety"] is True
    assert answer["cautions"]
    assert named(answer)["renew"]["every"] <= 10


def test_checking_comes_without_asking_where_wear_shows_and_follows_the_settings(client, fleet, vehicle):
    part, sealed = (fitment(client, vehicle, kind, "2022-09-01") for kind in ("v_belt", "condenser"))
    before = policies(client, vehicle, part)
    assert named(before)["inspect"]["every"] > 0
    assert any("postpones no limit" in note for note in before["notes"])
    assert "inspect" not in named(policies(client, vehicle, sealed)), "nobody sees a condenser wear"
    settle(
        fleet,
        client.put("/v1/part-kinds/v_belt/settings", json={"checking": {"cost": 0.5, "sensitivity": 1}}),
    )
    after = policies(client, vehicle, part)
    assert named(after)["inspect"]["cost_per_year"] < named(before)["inspect"]["cost_per_year"]
    assert named(after)["inspect"]["every"] < named(before)["inspect"]["every"]


@pytest.mark.parametrize("change", [{"cost": 0}, {"sensitivity": 2}, {"delay_share": 1}, {"often": True}])
def test_checks_that_make_no_sense_are_refused(client, change):
    refused = client.put("/v1/part-kinds/v_belt/settings", json={"checking": change})
    problem(refused, 422, f"checking.{next(iter(change))}")


def test_without_a_fitment_all_parts_of_the_car_are_answered_for(client, vehicle):
    assert client.get(f"/v1/vehicles/{vehicle}/policies").json()["items"] == []
    for kind in ("rotor_arm", "v_belt"):
        fitment(client, vehicle, kind, "2022-09-01")
    items = client.get(f"/v1/vehicles/{vehicle}/policies").json()["items"]
    assert {one["kind"] for one in items} == {"rotor_arm", "v_belt"}


def test_miles_are_answered_to_who_reads_miles(client):
    vehicle = car(client, distance_unit="mi")
    odometer(client, vehicle, "2020-09-01", 40_000, "mi")
    part = fitment(client, vehicle, "rotor_arm", "2020-09-01")
    answer = policies(client, vehicle, part)
    assert answer["yearly_distance"]["unit"] == "mi"
    assert named(answer)["renew"]["distance"]["unit"] == "mi"


def test_a_part_of_another_car_or_fleet_is_not_there(client, stranger, vehicle):
    other = car(client, name="other")
    part = fitment(client, other, "rotor_arm", "2022-09-01")
    problem(client.get(f"/v1/vehicles/{vehicle}/policies", params={"fitment": part}), 404)
    problem(stranger.get(f"/v1/vehicles/{other}/policies", params={"fitment": part}), 404)


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"fitment": "x" * 65}, "fitment"),
        ({"as_of": "tomorrow"}, "as_of"),
    ],
)
def test_a_malformed_question_is_refused(client, vehicle, query, field):
    problem(client.get(f"/v1/vehicles/{vehicle}/policies", params=query), 422, field)
