"""A car on offer whose parts nobody can date: what is due, with the range of two years' costs; nothing is stored."""

import time
from datetime import UTC, datetime

import pytest

from tests.api.history.making import car, fitment, items, problem, settle

YEAR = datetime.now(UTC).year
OFFER = {
    "built": "1985",
    "odometer": {"value": 140_000, "unit": "km"},
    "per_year": {"value": 3_000, "unit": "km"},
    "system": "electronic distributor",
}


def asked(client, **changes):
    answer = client.post("/v1/buying-lists", json={**OFFER, **changes})
    assert answer.status_code == 200, answer.text
    return answer.json()


def by_kind(found):
    return {one["kind"]: one for one in found["items"]}


def test_what_nobody_can_date_is_due_with_safety_first_and_a_range_of_costs(client):
    found = asked(client)
    named = by_kind(found)
    for kind in ("brake_hose", "tyres", "brake_fluid", "coolant_hose", "v_belt"):
        assert named[kind]["due"], kind
        assert "treated as old" in named[kind]["reason"]
    assert not named["vacuum_advance"]["due"], "near-random parts: carry a spare"
    flags = [(not one["due"], not one["safety"]) for one in found["items"]]
    assert flags == sorted(flags)
    for one in ("if_done", "if_left"):
        assert found[one]["low"] < found[one]["mean"] < found[one]["high"]
    assert found["if_done"]["mean"] > found["due_cost"]
    assert found["stops_if_done"] < found["stops_if_left"]
    assert "contact_points" not in named, "such a car has none"
    assert named["tyres"]["chance_of"] == "reaching its limit"
    assert any("brake hose" in question for question in found["ask"])


def test_a_paper_takes_a_part_off_the_list_and_a_told_date_does_not_exist(client):
    paper = {"kind": "timing_belt", "fitted_on": f"{YEAR - 1}"}
    before, after = (by_kind(asked(client, papers=papers))["timing_belt"] for papers in ([], [paper]))
    assert (before["due"], after["due"]) == (True, False)
    assert "papers" in after["reason"]
    assert after["chance_if_left"]["mean"] < before["chance_if_left"]["mean"]


def test_the_oldest_possible_day_counts(client):
    vague = asked(client, built="1990~", kinds=["tyres"])
    assert vague["years_old"] > YEAR - 1990


def test_an_odometer_that_is_low_for_its_age_is_asked_about(client):
    found = asked(client, odometer={"value": 31_000, "unit": "mi"})
    assert "passed its end" in found["ask"][0]
    assert "mi a year" in found["ask"][0]


def test_costs_and_limits_of_the_fleet_count(client, fleet):
    vehicle = car(client)
    fitment(client, vehicle, "coolant_hose", "2020-01-01")
    settle(
        fleet,
        client.put("/v1/part-kinds/coolant_hose/settings", json={"costs": {"planned": 700, "failure": 900}}),
    )
    found = by_kind(asked(client, kinds=["coolant_hose"]))["coolant_hose"]
    assert found["cost_now"] == 700


def test_nothing_is_stored_and_it_takes_no_time(client):
    asked(client)
    began = time.perf_counter()
    asked(client)
    assert time.perf_counter() - began < 10
    assert items(client, "/v1/vehicles") == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"built": "2199"}, "built"),
        ({"built": "soon"}, "built"),
        ({"odometer": {"value": -1, "unit": "km"}}, "odometer.value"),
        ({"per_year": {"value": 0, "unit": "km"}}, "per_year.value"),
        ({"papers": [{"kind": "tyres", "fitted_on": "1979"}]}, "papers.0.fitted_on"),
        ({"papers": [{"kind": "tyres", "fitted_on": "2199"}]}, "papers.0.fitted_on"),
        ({"papers": [{"kind": "tyres", "fitted_on": "2019"}] * 2}, "papers"),
        ({"kinds": ["tyres"], "papers": [{"kind": "v_belt", "fitted_on": "2019"}]}, "papers"),
        ({"kinds": ["warp_core"]}, "kinds.0"),
        ({"kinds": []}, "kinds"),
        ({"system": "steam"}, "system"),
        ({"price": 3}, "price"),
    ],
)
def test_offers_that_make_no_sense_name_their_field(client, change, field):
    problem(client.post("/v1/buying-lists", json={**OFFER, **change}), 422, field)
