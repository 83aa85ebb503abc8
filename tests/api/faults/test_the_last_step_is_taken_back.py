"""The last step of an open case can be taken back, and only by somebody who knows which one it is."""

import pytest

from tests.api.faults.cases import DAMP, car_with, closed, opened, step, suspect
from tests.api.history.making import items, problem


@pytest.fixture
def damp(client):
    return car_with(client, DAMP)


def tag_of(client, case):
    return client.get(f"/v1/fault-findings/{case['id']}").headers["ETag"]


def take_back(client, case, tag):
    headers = {} if tag is None else {"If-Match": tag}
    return client.delete(f"/v1/fault-findings/{case['id']}/steps/last", headers=headers)


def test_a_step_taken_back_leaves_the_case_as_it_was_before_it(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    one = step(client, case, check="mist_in_the_dark", outcome="good")
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    answer = take_back(client, case, tag_of(client, case))
    assert (answer.status_code, answer.json()) == (200, one)
    assert answer.headers["ETag"] == tag_of(client, case)
    assert take_back(client, case, answer.headers["ETag"]).json() == case
    problem(take_back(client, case, "*"), 404)
    told = {"outcome": "bad", "parts": [parts["ht_leads"]]}
    other = step(client, case, check="mist_in_the_dark", **told)  # no contradiction any more
    assert suspect(other, parts["ht_leads"])["check_ratio"] > 1
    assert len(items(client, f"/v1/vehicles/{vehicle}/fitments", in_service=True)) == len(DAMP)


def test_which_step_goes_must_be_known_and_a_closed_case_keeps_all(client, reading, stranger, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    before = tag_of(client, case)
    step(client, case, check="mist_in_the_dark", outcome="good")
    problem(take_back(client, case, None), 428)
    problem(take_back(client, case, before), 412)
    tag = tag_of(client, case)
    problem(take_back(reading, case, tag), 403)
    problem(take_back(stranger, case, tag), 404)
    ended = closed(client, case, cured=True, by=[parts["ht_leads"]])
    problem(take_back(client, case, tag_of(client, case)), 409)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == ended
