"""Looking back runs as a job on the fleet's own records, and is read as stored until it is asked for again."""

from datetime import UTC, date, datetime, timedelta

import pytest

from api.backtests.service import JUDGED, NOT_YET
from tests.api.history.making import car, fitment, items, odometer, problem, removal

PATH = "/v1/part-kinds/rotor_arm/backtest"
ASK = "/v1/part-kinds/rotor_arm/backtests"
LIVES = (3.0, 5.0, 4.0, 6.5)


def with_rotor_arms(client, number):
    """A car whose rotor arms failed one after the other since 2008."""
    vehicle = car(client, name=f"car {number}", joined_on="2008-01-01")
    for year in range(2008, datetime.now(UTC).date().year + 1):
        odometer(client, vehicle, f"{year}-01-01", 10_000 + 2_000 * (year - 2008))
    fitted = date(2008, 2, 1)
    for place in range(3):
        part = fitment(client, vehicle, "rotor_arm", fitted.isoformat())
        fitted += timedelta(days=round(365.25 * LIVES[(number + place) % len(LIVES)]))
        removal(client, part, fitted.isoformat(), "failed, confirmed")
    return fitment(client, vehicle, "rotor_arm", fitted.isoformat())


def look_back(fleet, client, **asked):
    answer = client.post(ASK, json={"every": "year"} | asked)
    assert answer.status_code == 202, answer.text
    return fleet.wait_for_job(answer.headers["Location"])


@pytest.fixture
def fleet_of_four(client):
    for number in range(4):
        with_rotor_arms(client, number)


def test_a_job_looks_back_and_the_answer_stays(fleet, client, reading, stranger, fleet_of_four):
    before = reading.get(PATH).json()
    assert (before["found"], before["words"], before["looked_back_at"]) == (None, NOT_YET, None)
    job = look_back(fleet, client)
    assert job["state"] == "succeeded", job
    assert job["progress"]["done"] == job["progress"]["total"] > 10
    told = reading.get(PATH).json()
    found = told["found"]
    assert (found["cars"], found["cars_asked"], found["failures"], found["enough"]) == (4, 4, 12, True)
    assert (found["every"], found["horizon_years"], found["first"]) == ("year", 1.0, None)
    assert told["words"] == job["result"]["words"] != NOT_YET
    assert told["words"].endswith(JUDGED)
    assert found["observed"] == job["result"]["observed"] == pytest.approx(12)
    assert found["ratio"]["low"] <= found["ratio"]["value"] <= found["ratio"]["high"]
    assert {one["name"] for one in found["scores"]} == {"predictions", "rule of thumb", "the book alone"}
    assert sum(line["observed"] for line in found["origins"]) == pytest.approx(found["observed"], rel=1e-3)
    assert [line["on"][:4] for line in found["origins"]][:2] == ["2008", "2009"]
    assert [line["failures"] for line in found["origins"]] == sorted(
        line["failures"] for line in found["origins"]
    )
    assert told["cautions"]
    assert stranger.get(PATH).json()["found"] is None


def test_asked_again_the_new_answer_takes_the_old_ones_place(fleet, client, fleet_of_four):
    look_back(fleet, client)
    whole = client.get(PATH).json()
    look_back(fleet, client, first="2015-01-01", horizon_years=2)
    later = client.get(PATH).json()
    assert (later["found"]["first"], later["found"]["horizon_years"]) == ("2015-01-01", 2.0)
    assert later["found"]["origins"][0]["on"] == "2015-12-31"
    assert later["looked_back_at"] > whole["looked_back_at"]
    life = client.get("/v1/part-kinds/rotor_arm/life").json()
    assert life["source"] == "book"  # looking back puts no life in force


def test_nothing_to_look_back_on_fails_with_the_reason_and_keeps_what_was_found(fleet, client, fleet_of_four):
    look_back(fleet, client)
    before = client.get(PATH).json()
    yesterday = (datetime.now(UTC).date() - timedelta(days=1)).isoformat()
    job = look_back(fleet, client, first=yesterday)
    assert job["state"] == "failed"
    assert "do not reach back a year, a whole horizon" in job["problem"]["detail"]
    assert client.get(PATH).json() == before
    assert look_back(fleet, client, every="quarter", horizon_years=0.25)["state"] == "succeeded"


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"every": "week"}, "every"),
        ({"horizon_years": 0}, "horizon_years"),
        ({"horizon_years": 11}, "horizon_years"),
        ({"horizon_years": "1"}, "horizon_years"),
        ({"first": "spring"}, "first"),
        ({"draws": 5}, "draws"),
    ],
)
def test_what_makes_no_sense_is_not_asked(client, body, field):
    problem(client.post(ASK, json=body), 422, field)
    assert items(client, "/v1/jobs") == []


def test_a_first_day_still_to_come_conflicts_with_the_day_that_it_is(client):
    problem(client.post(ASK, json={"first": "2999-01-01"}), 409, "first")
    assert items(client, "/v1/jobs") == []


def test_keys_and_kinds(client, reading, nobody):
    problem(nobody.get(PATH), 401)
    problem(nobody.post(ASK, json={}), 401)
    problem(reading.post(ASK, json={}), 403)
    for answer in (
        client.post("/v1/part-kinds/flux_belt/backtests", json={}),
        client.get("/v1/part-kinds/flux_belt/backtest"),
    ):
        problem(answer, 404)
