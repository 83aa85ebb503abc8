"""A car's work in visits: together what shares access, outside the season, within limits, nothing dropped silently."""

from datetime import date, timedelta

import pytest

from tests.api.history.making import car, fitment, made, odometer, problem

AS_OF = date(2026, 11, 2)


@pytest.fixture
def vehicle(client):
    found = car(client)
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def visits(client, vehicle, **query):
    response = client.get(f"/v1/vehicles/{vehicle}/visits", params={"as_of": AS_OF} | query)
    assert response.status_code == 200, response.text
    return response.json()


def jobs(answer):
    return [[job["kind"] for job in visit["jobs"]] for visit in answer["visits"]]


def test_a_car_without_parts_has_no_visits(client, vehicle):
    found = visits(client, vehicle)
    assert (found["visits"], found["saved"], found["leave_alone"], found["exact"]) == ([], 0, [], True)


def test_overdue_work_shares_one_visit_and_saves(client, vehicle):
    for kind in ("rotor_arm", "distributor_cap", "v_belt", "coolant_hose"):
        fitment(client, vehicle, kind, "2010-01-01")
    found = visits(client, vehicle)
    assert len(found["visits"]) == 1
    first = found["visits"][0]
    assert first["week_of"] == AS_OF.isoformat()
    assert {job["kind"] for job in first["jobs"]} == {
        "rotor_arm",
        "distributor_cap",
        "v_belt",
        "coolant_hose",
    }
    assert found["saved"] == pytest.approx(found["cost_apart"] - found["cost"], abs=0.02)
    assert found["saved"] >= 3 * 50
    assert first["hours"] > 0
    assert first["money"] == pytest.approx(sum(job["planned_cost"] for job in first["jobs"]), abs=0.02)
    assert first["cautions"]


def test_what_needs_nothing_is_left_alone_with_the_reason(client, vehicle):
    fitment(client, vehicle, "condenser", "2020-01-01")
    fitment(client, vehicle, "coolant_hose", "2026-09-01", 72_000)
    words = {one["kind"]: one["words"] for one in visits(client, vehicle)["leave_alone"]}
    assert "carry a spare" in words["condenser"]
    assert words["coolant_hose"].startswith("Due about")


def test_no_visit_falls_into_the_season(client, vehicle):
    fitment(client, vehicle, "battery", "2023-07-01")
    free = visits(client, vehicle, within_years=2)["visits"][0]["week_of"]
    assert "04-15" <= free[5:] <= "10-15"
    kept = visits(client, vehicle, within_years=2, season_start="04-15", season_end="10-15")["visits"][0][
        "week_of"
    ]
    assert not "04-15" <= kept[5:] <= "10-15"


@pytest.mark.parametrize(
    ("kind", "day"), [("battery", "2023-07-01"), ("v_belt", "2024-06-01"), ("rotor_arm", "2021-09-01")]
)
def test_a_visit_of_its_own_is_in_the_week_that_the_list_says(client, vehicle, kind, day):
    fitment(client, vehicle, kind, day)
    (visit,) = visits(client, vehicle, within_years=2)["visits"]
    likely = date.fromisoformat(visit["jobs"][0]["likely"])
    assert abs((date.fromisoformat(visit["week_of"]) - likely).days) <= 14


def test_shut_days_move_a_visit(client, vehicle):
    fitment(client, vehicle, "v_belt", "2010-01-01")
    shut = [(AS_OF + timedelta(days=day)).isoformat() for day in range(7)]
    assert (
        visits(client, vehicle, closed=shut)["visits"][0]["week_of"]
        == (AS_OF + timedelta(days=7)).isoformat()
    )


def test_a_safety_part_past_its_limit_with_the_workshop_shut_is_said(client, vehicle):
    tyre = fitment(client, vehicle, "tyres", "2010-01-01", position="front left")
    shut = [(AS_OF + timedelta(days=day)).isoformat() for day in range(14)]
    found = visits(client, vehicle, closed=shut)
    assert found["visits"] == []
    (said,) = found["could_not_fit"]
    assert said["fitment_id"] == tyre
    assert "before the next drive" in said["words"]


def test_a_budget_too_small_plans_the_brakes_all_the_same(client, vehicle):
    fitment(client, vehicle, "brake_hose", "2010-01-01", position="rear")
    fitment(client, vehicle, "v_belt", "2010-01-01")
    found = visits(client, vehicle, most_money=40)
    assert {kind for visit in jobs(found) for kind in visit} == {"brake_hose", "v_belt"}
    assert found["could_not_fit"][0]["kind"] == "brake_hose"
    assert "planned all the same" in found["could_not_fit"][0]["words"]


def test_both_tyres_of_an_axle_come_together(client, vehicle):
    for side, day in (("left", "2021-06-01"), ("right", "2023-06-01")):
        fitment(client, vehicle, "tyres", day, position=f"front {side}")
    found = visits(client, vehicle, within_years=2)
    assert jobs(found) == [["tyres", "tyres"]]


def test_what_was_declined_stands_as_accepted_risk(client, vehicle):
    part = fitment(client, vehicle, "v_belt", "2010-01-01")
    made(client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": "sold in spring"}))
    found = visits(client, vehicle)
    assert found["visits"] == []
    assert "sold in spring" in found["accepted_risk"][0]["words"]


def test_a_part_found_failed_is_in_the_first_visit(client, vehicle):
    part = fitment(client, vehicle, "thermostat", "2026-01-01")
    made(
        client.post(
            f"/v1/fitments/{part}/inspections", json={"inspected_on": "2026-10-01", "finding": "failed"}
        )
    )
    found = visits(client, vehicle)
    assert found["visits"][0]["week_of"] == AS_OF.isoformat()
    assert jobs(found) == [["thermostat"]]


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"within_years": 0}, "within_years"),
        ({"within_years": 3}, "within_years"),
        ({"set_up": -1}, "set_up"),
        ({"set_up": "nan"}, "set_up"),
        ({"gap_weeks": 0}, "gap_weeks"),
        ({"most_hours": 0}, "most_hours"),
        ({"season_start": "02-30", "season_end": "10-15"}, "season_start"),
        ({"season_start": "04-15"}, "season_end"),
        ({"season_start": "spring", "season_end": "10-15"}, "season_start"),
        ({"closed": "sunday"}, "closed.0"),
    ],
)
def test_a_malformed_question_is_refused(client, vehicle, query, field):
    problem(client.get(f"/v1/vehicles/{vehicle}/visits", params=query), 422, field)
