"""A fleet adds complaints and checks of its own, and its closed cases move later rankings; nobody else's do."""

import pytest

from planner.faults.shares import BOOK_CASES
from tests.api.faults.cases import DAMP, car_with, chances, closed, opened, step
from tests.api.history.making import items, made, problem

SQUEAL = {
    "id": "squeals_in_the_wet",
    "title": "Squeals on wet mornings",
    "conditions": ["damp"],
    "causes": [{"kinds": ["v_belt"], "weight": 60}, {"kinds": ["water_pump"], "weight": 20}],
    "others": [{"what": "a dry pulley bearing", "weight": 20}],
    "note": "ten years of our own notes",
}
BELT_WATER = {
    "id": "water_on_the_belt",
    "name": "Drip water on the belt",
    "targets": ["v_belt"],
    "sensitivity": 0.9,
    "specificity": 0.95,
    "minutes": 2,
    "caution": "Keep hands and sleeves away from the running belt.",
}


def test_own_complaints_and_checks_stand_beside_the_books(client, reading, stranger):
    mine = made(client.post("/v1/complaints", json=SQUEAL))
    assert (mine["own"], mine["causes"][0]["kinds"]) == (True, ["v_belt"])
    assert made(client.post("/v1/checks", json=BELT_WATER))["own"]
    assert len(items(stranger, "/v1/complaints")) >= 19
    assert len(items(stranger, "/v1/checks")) >= 30
    for path, name in (("/v1/complaints", SQUEAL["id"]), ("/v1/checks", BELT_WATER["id"])):
        assert [one["id"] for one in items(reading, path) if one["own"]] == [name]
        assert not [one for one in items(stranger, path) if one["own"]]
        assert {one["basis"] for one in items(reading, path)} <= {"page", "common practice", "judgement"}


def test_a_case_on_an_own_complaint_with_an_own_check(client, stranger):
    made(client.post("/v1/complaints", json=SQUEAL))
    made(client.post("/v1/checks", json=BELT_WATER))
    vehicle, parts = car_with(client, {"v_belt": 8, "water_pump": 8})
    case = opened(client, vehicle, SQUEAL["id"])
    assert case["ranking"]["suspects"][0]["fitment_id"] == parts["v_belt"]
    after = step(client, case, check=BELT_WATER["id"], outcome="good")
    ratio = next(
        one["check_ratio"] for one in after["ranking"]["suspects"] if one["fitment_id"] == parts["v_belt"]
    )
    assert ratio == pytest.approx((1 - 0.9) / 0.95, abs=5e-4)
    theirs, _ = car_with(stranger, {"v_belt": 8})
    body = {"complaint": SQUEAL["id"], "last_ran_well": "2020-01-01"}
    problem(stranger.post(f"/v1/vehicles/{theirs}/fault-findings", json=body), 409, "complaint")


def test_an_own_complaint_says_that_the_engine_does_not_run(client):
    dead = made(client.post("/v1/complaints", json=SQUEAL | {"engine_dead": True}))
    assert dead["engine_dead"] is True
    made(client.post("/v1/checks", json=BELT_WATER | {"needs_running": True}))
    both = BELT_WATER | {"id": "neither_nor", "needs_running": True, "needs_dead": True}
    problem(client.post("/v1/checks", json=both), 422, "needs_dead")
    vehicle, _ = car_with(client, {"v_belt": 8})
    path = f"/v1/fault-findings/{opened(client, vehicle, SQUEAL['id'])['id']}/steps"
    refused = problem(client.post(path, json={"check": BELT_WATER["id"], "outcome": "good"}), 409, "check")
    assert "running engine" in refused["detail"]


def test_an_own_check_says_with_what_it_is_of_no_use_and_that_it_shows_where(client):
    made(client.post("/v1/complaints", json=SQUEAL))
    both = BELT_WATER | {"targets": ["v_belt", "water_pump"], "shows_where": True}
    odd = client.post("/v1/checks", json=both | {"not_with": ["on_sundays"]})
    problem(odd, 422, "not_with")
    mine = made(client.post("/v1/checks", json=both | {"not_with": ["cold", "charge_light"]}))
    assert (mine["not_with"], mine["shows_where"]) == (["cold", "charge_light"], True)
    vehicle, parts = car_with(client, {"v_belt": 8, "water_pump": 8})
    cold = f"/v1/fault-findings/{opened(client, vehicle, SQUEAL['id'], conditions=['cold'])['id']}/steps"
    refused = problem(client.post(cold, json={"check": mine["id"], "outcome": "good"}), 409, "check")
    assert "tells nothing new" in refused["detail"]
    wet = opened(client, vehicle, SQUEAL["id"])
    after = step(client, wet, check=mine["id"], outcome="bad", parts=[parts["water_pump"]])
    assert after["steps"][0]["shows_bad"] == {parts["water_pump"]: True, parts["v_belt"]: False}


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"id": "misfire_in_damp"}, 409, "id"),
        ({"id": "Has Blanks"}, 422, "id"),
        ({"causes": [{"kinds": ["flux_capacitor"], "weight": 60}]}, 422, "causes.0.kinds.0"),
        ({"causes": [{"kinds": ["v_belt"], "weight": 0}]}, 422, "causes.0.weight"),
        ({"causes": []}, 422, "causes"),
        ({"conditions": ["on Tuesdays"]}, 422, "conditions"),
        ({"stop_driving": True}, 422, "warning"),
    ],
)
def test_a_complaint_that_makes_no_sense(client, change, status, field):
    problem(client.post("/v1/complaints", json=SQUEAL | change), status, field)
    assert not [one for one in items(client, "/v1/complaints") if one["own"]]


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"id": "dwell"}, 409, "id"),
        ({"targets": ["flux_capacitor"]}, 422, "targets.0"),
        ({"targets": []}, 422, "targets"),
        ({"sensitivity": 0.2, "specificity": 0.3}, 422, "sensitivity"),
        ({"sensitivity": 1}, 422, "sensitivity"),
        ({"minutes": 0}, 422, "minutes"),
        ({"systems": ["steam"]}, 422, "systems.0"),
    ],
)
def test_a_check_that_makes_no_sense(client, change, status, field):
    problem(client.post("/v1/checks", json=BELT_WATER | change), status, field)
    assert not [one for one in items(client, "/v1/checks") if one["own"]]


def test_a_name_is_taken_once(client):
    for path, body in (("/v1/complaints", SQUEAL), ("/v1/checks", BELT_WATER)):
        made(client.post(path, json=body))
        problem(client.post(path, json=body), 409, "id")


def test_closed_cases_of_the_fleet_move_later_rankings(client, stranger):
    first, _ = car_with(client, DAMP)
    before = opened(client, first)
    for _ in range(3):
        vehicle, parts = car_with(client, DAMP)
        case = opened(client, vehicle)
        closed(client, case, cured=True, by=[parts["rotor_arm"]], confirmed=[parts["rotor_arm"]])
    after = opened(client, first)
    assert after["shares"]["cases"] == 3
    assert after["shares"]["book_share"] == round(BOOK_CASES / (BOOK_CASES + 3), 2)
    assert chances(after)["rotor_arm"] > 1.3 * chances(before)["rotor_arm"]
    assert chances(client.get(f"/v1/fault-findings/{before['id']}").json()) == chances(before)
    theirs, _ = car_with(stranger, DAMP)
    assert opened(stranger, theirs)["shares"]["cases"] == 0


def test_cases_of_another_complaint_or_system_teach_nothing_here(client):
    vehicle, parts = car_with(client, DAMP)
    closed(client, opened(client, vehicle, "misfire_under_load"), cured=True, by=[parts["ignition_coil"]])
    other, others = car_with(client, DAMP, system="injection")
    closed(client, opened(client, other), cured=True, by=[others["ht_leads"]])
    third, _ = car_with(client, DAMP)
    assert opened(client, third)["shares"]["cases"] == 0


def test_cured_by_something_that_was_never_suspected_counts_as_something_else(client):
    vehicle, parts = car_with(client, DAMP | {"tyres": 5})
    case = opened(client, vehicle)
    ended = closed(client, case, cured=True, by=[parts["tyres"]])
    assert [(one["fitment_id"], one["chance"]) for one in ended["closing"]["causes"]] == [(None, 1)]
    assert [one["fitment_id"] for one in ended["closing"]["removals"]] == [parts["tyres"]]
    later = opened(client, vehicle)
    assert later["shares"]["cases"] == 1
    share = case["ranking"]["something_else"]["chance"]
    assert later["ranking"]["something_else"]["chance"] > share
