"""One rule for all cars of a fleet: asked for, worked out over its own spread of use, told when it is out of date."""

import pytest

from planner.catalogue import load_catalogue
from planner.interval import best_kind_rule, default_costs, lognormal_use
from planner.life.fit import book_life
from planner.life.prior import book_prior
from tests.api.history.making import car, odometer, problem, settle


def work_out(fleet, client, kind):
    response = client.post(f"/v1/part-kinds/{kind}/rules")
    assert response.status_code == 202, response.text
    job = fleet.wait_for_job(response.headers["Location"])
    assert job["state"] == "succeeded", job
    return job["result"]


def rule(client, kind, **query):
    response = client.get(f"/v1/part-kinds/{kind}/rule", params=query)
    assert response.status_code == 200, response.text
    return response.json()


def test_before_it_is_asked_for_there_is_none(client):
    found = rule(client, "rotor_arm")
    assert (found["rule"], found["up_to_date"], found["worked_out_at"]) == (None, False, None)
    assert "Not worked out yet" in found["words"]


def test_without_cars_it_is_the_librarys_for_such_cars_usual_spread(fleet, client):
    assert work_out(fleet, client, "rotor_arm") == {"kind": "rotor_arm", "cars": 0}
    found = rule(client, "rotor_arm")
    kind = load_catalogue()["rotor_arm"]
    life = book_life(book_prior(kind), seed=1, draws=400)
    own = best_kind_rule(life, default_costs(kind), *lognormal_use())
    assert found["rule"]["years"] == pytest.approx(own.years, rel=0.06)
    assert found["rule"]["distance"]["value"] == pytest.approx(own.km, rel=0.06)
    assert found["rule"]["cost_if_each_had_its_own"] <= found["rule"]["cost_per_year"]
    assert found["rule"]["cost_per_year"] < found["rule"]["cost_run_to_failure"]
    assert found["up_to_date"] is True
    assert "whichever comes first" in found["words"]
    miles = rule(client, "rotor_arm", unit="mi")["rule"]["distance"]
    assert miles["value"] == pytest.approx(own.km / 1.609344, rel=0.06)


def test_with_cars_it_is_for_their_own_use(fleet, client):
    for number in range(6):
        vehicle = car(client, name=f"car {number}")
        for year in range(2018, 2027):
            odometer(
                client,
                vehicle,
                f"{year}-01-01",
                100_000 + (6_000 + 4_000 * number) * (year - 2018),
                dial_digits=6,
            )
    assert work_out(fleet, client, "contact_points")["cars"] == 6
    driven = rule(client, "contact_points")["rule"]
    assert driven["cars"] == 6
    assert driven["distance_first"] > 0.5


def test_changed_terms_put_it_out_of_date_until_it_is_asked_for_again(fleet, client):
    work_out(fleet, client, "rotor_arm")
    before = rule(client, "rotor_arm")["rule"]
    settle(
        fleet,
        client.put("/v1/part-kinds/rotor_arm/settings", json={"costs": {"planned": 20, "failure": 2_000}}),
    )
    stale = rule(client, "rotor_arm")
    assert (stale["up_to_date"], stale["rule"]) == (False, before)
    work_out(fleet, client, "rotor_arm")
    fresh = rule(client, "rotor_arm")
    assert fresh["up_to_date"] is True
    assert fresh["rule"]["years"] < before["years"]


def test_no_rule_passes_a_cap(fleet, client):
    work_out(fleet, client, "tyres")
    found = rule(client, "tyres")
    assert found["rule"]["years"] <= 10
    assert found["safety"] is True
    assert found["cautions"]


def test_random_parts_are_run_to_failure(fleet, client):
    work_out(fleet, client, "condenser")
    assert (
        "carry a spare" in rule(client, "condenser")["words"]
        or rule(client, "condenser")["rule"]["years"] > 15
    )


def test_unknown_kinds_and_reading_keys_are_refused(client, reading):
    problem(client.post("/v1/part-kinds/flux_belt/rules"), 404)
    problem(client.get("/v1/part-kinds/flux_belt/rule"), 404)
    problem(reading.post("/v1/part-kinds/rotor_arm/rules"), 403)
