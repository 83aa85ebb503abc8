"""A closed case leaves no hole in a car's history: the new part is written down, or its place is named as empty."""

from datetime import timedelta

import pytest

from tests.api.faults.cases import DAMP, TODAY, car_with, closed, opened, step
from tests.api.history.making import fitment, items, problem, removal

LAST_WEEK = (TODAY - timedelta(days=7)).isoformat()
DIAL = {"value": 100_150, "unit": "km"}


@pytest.fixture
def damp(client):
    return car_with(client, DAMP)


def on_car(client, vehicle, kind):
    return [
        one
        for one in items(client, f"/v1/vehicles/{vehicle}/fitments", in_service=True)
        if one["kind"] == kind
    ]


def test_the_cure_and_what_was_renewed_in_vain_leave_new_parts(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["rotor_arm"]], cured=False, done_on=LAST_WEEK, odometer=DIAL)
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    ended = closed(client, case, cured=True)["closing"]
    assert ended["nothing_in_place"] == []
    new = {one["in_place_of"]: one for one in ended["fitted"]}
    assert new.keys() == {parts["rotor_arm"], parts["ht_leads"]}
    (arm,), (leads,) = on_car(client, vehicle, "rotor_arm"), on_car(client, vehicle, "ht_leads")
    assert (arm["id"], leads["id"]) == (
        new[parts["rotor_arm"]]["fitment_id"],
        new[parts["ht_leads"]]["fitment_id"],
    )
    assert (arm["fitted_on"], arm["condition"]) == (LAST_WEEK, "new")
    assert (arm["odometer"]["value"], arm["odometer"]["unit"]) == (100_150, "km")
    assert (leads["fitted_on"], leads["odometer"]) == (TODAY.isoformat(), None)
    planned = {one["kind"] for one in items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)}
    assert planned == DAMP.keys()


def test_a_part_renewed_twice_leaves_the_piece_that_went_in_last(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["rotor_arm"]], cured=False, done_on=LAST_WEEK)
    step(client, case, renewed=[parts["rotor_arm"]], cured=True)
    (new,) = closed(client, case, cured=True)["closing"]["fitted"]
    assert new["fitted_on"] == TODAY.isoformat()
    assert client.get(f"/v1/fitments/{parts['rotor_arm']}/removal").json()["removed_on"] == LAST_WEEK


def test_where_nothing_is_to_be_written_the_empty_places_are_named_until_something_is(client, reading, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    ended = closed(client, case, cured=True, by=[parts["ht_leads"]], fitted="none")["closing"]
    assert ended["fitted"] == []
    assert [(one["fitment_id"], one["kind"]) for one in ended["nothing_in_place"]] == [
        (parts["ht_leads"], "ht_leads")
    ]
    assert on_car(client, vehicle, "ht_leads") == []
    fitment(client, vehicle, "ht_leads", TODAY.isoformat())
    later = reading.get(f"/v1/fault-findings/{case['id']}").json()["closing"]
    assert later == ended | {"nothing_in_place": []}


def test_what_the_keeper_wrote_himself_stands_and_is_not_written_twice(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"], parts["rotor_arm"]], cured=True)
    new = fitment(client, vehicle, "ht_leads", TODAY.isoformat())
    removal(client, parts["rotor_arm"], TODAY.isoformat(), "looked worn")
    ended = closed(client, case, cured=True)["closing"]
    assert ended["fitted"] == []
    assert [one["id"] for one in on_car(client, vehicle, "ht_leads")] == [new]
    assert [one["fitment_id"] for one in ended["nothing_in_place"]] == [parts["rotor_arm"]]


def test_each_of_several_places_of_a_kind_gets_its_own(client):
    vehicle, _ = car_with(client, {})
    ends = [fitment(client, vehicle, "brake_hose", "1990-01-01", position=side) for side in ("left", "right")]
    case = opened(client, vehicle, "brake_pulls")
    ended = closed(client, case, cured=True, by=ends)["closing"]
    assert [one["in_place_of"] for one in ended["fitted"]] == ends
    assert {one["position"] for one in on_car(client, vehicle, "brake_hose")} == {"left", "right"}


def test_a_closing_whose_own_last_step_contradicts_the_records_writes_nothing(client, damp):
    vehicle, parts = damp
    young = fitment(client, vehicle, "vacuum_advance", TODAY.isoformat())
    case = opened(client, vehicle, noted_on=LAST_WEEK)
    path = f"/v1/fault-findings/{case['id']}/closing"
    both = {"cured": True, "by": [parts["ht_leads"], young]}
    problem(client.post(path, json=both | {"closed_on": LAST_WEEK}), 409, "closed_on")
    problem(client.post(path, json=both | {"odometer": {"value": 90_000, "unit": "km"}}), 409, "odometer")
    problem(client.post(path, json=both | {"fitted": "old"}), 422, "fitted")
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case
    assert len(items(client, f"/v1/vehicles/{vehicle}/fitments", in_service=True)) == len(DAMP) + 1
    closed(client, case, **both)
    problem(client.post(path, json={"cured": False}), 409, "closed_on")
    problem(
        client.post(f"/v1/fault-findings/{case['id']}/steps", json={"check": "cap_look", "outcome": "good"}),
        409,
        "closed_on",
    )
