"""Own complaints and checks are changed and taken away, and the book's weighed anew; cases stay as they were opened."""

import pytest

from tests.api.faults.cases import DAMP, HOT, car_with, closed, opened, step, suspect
from tests.api.faults.test_own_complaints_checks_and_what_cases_teach import BELT_WATER, SQUEAL
from tests.api.history.making import items, made, problem

WORTH = {"sensitivity": 0.5, "specificity": 0.9, "minutes": 30, "money": 4}


def change(client, path, changes, tag=None):
    tag = tag or client.get(path).headers["ETag"]
    return client.patch(path, json=changes, headers={"If-Match": tag})


def changed(client, path, changes):
    answer = change(client, path, changes)
    assert answer.status_code == 200, answer.text
    assert answer.json() == client.get(path).json()
    assert answer.headers["ETag"] == client.get(path).headers["ETag"]
    return answer.json()


def gone(client, path):
    assert client.delete(path).status_code == 204


@pytest.fixture
def damp(client):
    return car_with(client, DAMP)


def test_a_check_of_the_book_is_worth_what_the_fleet_says(client, stranger, damp):
    vehicle, parts = damp
    before = step(client, opened(client, vehicle), check="mist_in_the_dark", outcome="good")
    book = client.get("/v1/checks/mist_in_the_dark").json()
    mine = changed(client, "/v1/checks/mist_in_the_dark", WORTH | {"note": "our own garage is too light"})
    assert {name: mine[name] for name in WORTH} == WORTH
    assert mine["book"] == {name: book[name] for name in WORTH}
    assert (mine["changed"], mine["own"], mine["source"]) == (True, False, "our own garage is too light")
    assert (mine["caution"], mine["note"]) == (book["caution"], book["note"])
    assert stranger.get("/v1/checks/mist_in_the_dark").json() == book
    assert [one for one in items(client, "/v1/checks") if one["changed"]] == [mine]
    after = step(client, opened(client, vehicle), check="mist_in_the_dark", outcome="good")
    leads = parts["ht_leads"]
    assert suspect(after, leads)["check_ratio"] == pytest.approx((1 - 0.5) / 0.9, abs=5e-4)
    assert suspect(before, leads)["check_ratio"] == pytest.approx((1 - 0.7) / 0.92, abs=5e-4)  # the book's
    assert client.get(f"/v1/fault-findings/{before['id']}").json() == before


def test_the_next_step_counts_with_the_fleets_figures(client):
    case = opened(client, car_with(client, HOT, system=None)[0], "hot_no_start")
    path = f"/v1/fault-findings/{case['id']}/next-step"
    first = client.get(path).json()["step"]
    assert first["kind"] == "check"
    changed(client, f"/v1/checks/{first['ref']}", {"minutes": 900, "money": 500})
    again = client.get(path).json()
    assert again["step"]["ref"] != first["ref"]
    there = next((one for one in again["options"] if one["ref"] == first["ref"]), None)
    assert there is None or there["outlay"] > 500


def test_the_books_figures_hold_again_when_the_fleets_are_taken_away(client):
    book = client.get("/v1/checks/dwell")
    changed(client, "/v1/checks/dwell", {"sensitivity": 0.6})
    changed(client, "/v1/checks/dwell", {"minutes": 25})
    held = client.get("/v1/checks/dwell").json()
    assert (held["sensitivity"], held["minutes"]) == (0.6, 25)
    gone(client, "/v1/checks/dwell")
    assert client.get("/v1/checks/dwell").json() == book.json()
    refused = problem(client.delete("/v1/checks/dwell"), 409)
    assert "nothing of this fleet to take away" in refused["detail"]


def test_causes_of_the_books_complaint_are_weighed_anew_and_driving_stays_forbidden(client, damp):
    vehicle, parts = damp
    before = opened(client, vehicle)
    causes = [{"kinds": ["rotor_arm"], "weight": 90}, {"kinds": ["ht_leads"], "weight": 2}]
    mine = changed(client, "/v1/complaints/misfire_in_damp", {"causes": causes})
    assert mine["changed"]
    assert not mine["own"]
    after = opened(client, vehicle)
    assert {one["kind"] for one in after["ranking"]["suspects"]} == {"rotor_arm", "ht_leads"}
    assert after["ranking"]["suspects"][0]["fitment_id"] == parts["rotor_arm"]
    assert client.get(f"/v1/fault-findings/{before['id']}").json() == before
    for changes in ({"stop_driving": False}, {"warning": ""}, {"title": "Sinks a bit"}):
        named = next(iter(changes))
        problem(change(client, "/v1/complaints/sinking_pedal", changes), 409, named)
    gone(client, "/v1/complaints/misfire_in_damp")
    again = opened(client, vehicle)
    assert {one["kind"] for one in again["ranking"]["suspects"]} == {
        one["kind"] for one in before["ranking"]["suspects"]
    }


def test_what_the_book_says_goes_back_and_forth_unchanged(client):
    for one in items(client, "/v1/complaints"):
        path = f"/v1/complaints/{one['id']}"
        sent = {name: one[name] for name in ("causes", "others")}
        answer = changed(client, path, sent)
        assert {name: answer[name] for name in sent} == sent
        gone(client, path)


def test_own_ones_are_changed_and_cases_on_them_stay(client):
    made(client.post("/v1/complaints", json=SQUEAL))
    made(client.post("/v1/checks", json=BELT_WATER))
    vehicle, parts = car_with(client, {"v_belt": 8, "water_pump": 8})
    case = step(client, opened(client, vehicle, SQUEAL["id"]), check=BELT_WATER["id"], outcome="good")
    title = changed(client, f"/v1/complaints/{SQUEAL['id']}", {"title": "Squeals", "note": None})
    assert (title["title"], title["causes"][0]["weight"]) == ("Squeals", 60)
    name = changed(client, f"/v1/checks/{BELT_WATER['id']}", {"name": "Drip", "specificity": 0.99})
    assert (name["name"], name["specificity"], name["sensitivity"]) == ("Drip", 0.99, 0.9)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case
    later = step(client, opened(client, vehicle, SQUEAL["id"]), check=BELT_WATER["id"], outcome="good")
    assert (later["title"], later["steps"][0]["words"]) == ("Squeals", "Drip: shows good")
    belt = parts["v_belt"]
    assert suspect(case, belt)["check_ratio"] == pytest.approx((1 - 0.9) / 0.95, abs=5e-4)
    assert suspect(later, belt)["check_ratio"] == pytest.approx((1 - 0.9) / 0.99, abs=5e-4)


def test_taken_away_they_stay_readable_where_they_were_used(client):
    made(client.post("/v1/complaints", json=SQUEAL))
    made(client.post("/v1/checks", json=BELT_WATER))
    vehicle, parts = car_with(client, {"v_belt": 8, "water_pump": 8})
    case = step(client, opened(client, vehicle, SQUEAL["id"]), check=BELT_WATER["id"], outcome="good")
    for path in (f"/v1/complaints/{SQUEAL['id']}", f"/v1/checks/{BELT_WATER['id']}"):
        gone(client, path)
        for answer in (client.get(path), client.delete(path), change(client, path, {"note": "x"}, "*")):
            problem(answer, 404)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == case
    body = {"complaint": SQUEAL["id"], "last_ran_well": "2020-01-01"}
    problem(client.post(f"/v1/vehicles/{vehicle}/fault-findings", json=body), 409, "complaint")
    other = opened(client, car_with(client, DAMP)[0])
    body = {"check": BELT_WATER["id"], "outcome": "good"}
    problem(client.post(f"/v1/fault-findings/{other['id']}/steps", json=body), 409, "check")
    ended = closed(client, case, cured=True, by=[parts["v_belt"]])
    assert ended["steps"] == case["steps"]


def test_what_a_complaint_taught_does_not_pass_to_another_of_the_same_name(client):
    made(client.post("/v1/complaints", json=SQUEAL))
    vehicle, parts = car_with(client, {"v_belt": 8, "water_pump": 8})
    closed(client, opened(client, vehicle, SQUEAL["id"]), cured=True, by=[parts["v_belt"]])
    other, _ = car_with(client, {"v_belt": 8, "water_pump": 8})
    changed(client, f"/v1/complaints/{SQUEAL['id']}", {"title": "Squeals"})
    assert opened(client, other, SQUEAL["id"])["shares"]["cases"] == 1
    gone(client, f"/v1/complaints/{SQUEAL['id']}")
    made(client.post("/v1/complaints", json=SQUEAL | {"title": "Squeals when turning"}))
    assert opened(client, other, SQUEAL["id"])["shares"]["cases"] == 0


@pytest.mark.parametrize(
    ("path", "changes", "status", "field"),
    [
        ("checks/dwell", {"sensitivity": 1}, 422, "sensitivity"),
        ("checks/dwell", {"sensitivity": None}, 422, "sensitivity"),
        ("checks/dwell", {"sensitivity": 0.2, "specificity": 0.3}, 422, "sensitivity"),
        ("checks/dwell", {"sensitivity": 0.1}, 409, "sensitivity"),
        ("checks/dwell", {"minutes": 0}, 422, "minutes"),
        ("checks/dwell", {"money": -1}, 422, "money"),
        ("checks/dwell", {"caution": ""}, 409, "caution"),
        ("checks/dwell", {"targets": ["v_belt"]}, 409, "targets"),
        ("checks/dwell", {"id": "mine"}, 422, "id"),
        ("checks/water_on_the_belt", {"targets": ["flux_capacitor"]}, 422, "targets.0"),
        ("checks/water_on_the_belt", {"sensitivity": 0.02}, 409, "sensitivity"),
        ("checks/lick_it", {"minutes": 2}, 404, None),
        ("complaints/squeals_in_the_wet", {"stop_driving": True}, 409, "warning"),
        ("complaints/squeals_in_the_wet", {"stop_driving": True, "warning": ""}, 422, "warning"),
        ("complaints/squeals_in_the_wet", {"causes": []}, 422, "causes"),
        ("complaints/squeals_in_the_wet", {"conditions": ["on Tuesdays"]}, 422, "conditions"),
        ("complaints/misfire_in_damp", {"conditions": ["damp"]}, 409, "conditions"),
        ("complaints/misfire_in_damp", {"causes": [{"kinds": ["x"], "weight": 9}]}, 422, "causes.0.kinds.0"),
        ("complaints/makes_a_noise", {"note": "none"}, 404, None),
    ],
)
def test_a_change_that_makes_no_sense_changes_nothing(client, path, changes, status, field):
    made(client.post("/v1/complaints", json=SQUEAL))
    made(client.post("/v1/checks", json=BELT_WATER))
    before = client.get(f"/v1/{path}")
    problem(change(client, f"/v1/{path}", changes, "*"), status, field)
    after = client.get(f"/v1/{path}")
    assert (after.status_code, after.json()) == (before.status_code, before.json())
    assert after.headers.get("ETag") == before.headers.get("ETag")


@pytest.mark.parametrize("path", ["/v1/checks/dwell", "/v1/complaints/misfire_in_damp"])
def test_whoever_changes_says_which_state_and_has_a_key_for_it(client, reading, stranger, nobody, path):
    field = {"note": "seen often"}
    tag = client.get(path).headers["ETag"]
    problem(client.patch(path, json=field), 428)
    problem(change(reading, path, field), 403)
    problem(nobody.patch(path, json=field), 401)
    assert change(client, path, {}, tag).json()["changed"] is False
    assert change(client, path, field, tag).status_code == 200
    problem(change(client, path, {"note": "too late"}, tag), 412)
    problem(client.delete(path, headers={"If-Match": tag}), 412)
    problem(reading.delete(path), 403)
    problem(stranger.delete(path), 409)
    assert client.get(path).json()["changed"]
