"""Parts to order: planned work in its month, failures on top, sets whole, decisions heeded, dates with lead time."""

from datetime import date

import pytest

from tests.api.history.making import car, fitment, made, odometer, problem

AS_OF = date(2026, 10, 10)


@pytest.fixture
def vehicle(client):
    found = car(client)
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def orders(client, **query):
    response = client.get("/v1/parts-to-order", params={"as_of": AS_OF} | query)
    assert response.status_code == 200, response.text
    return response.json()


def kinds(answer):
    return {one["kind"]: one for one in answer["items"]}


def test_an_empty_fleet_wants_nothing(client):
    found = orders(client)
    assert (found["items"], found["workshop"], found["parts_in_service"]) == ([], [], 0)


def test_what_is_overdue_is_wanted_now_and_ordered_late(client, vehicle):
    fitment(client, vehicle, "v_belt", "2016-09-01", 52_000)
    belt = kinds(orders(client, lead_days=10))["v_belt"]
    first = belt["months"][0]
    assert (first["month"], first["planned"], first["enough"]) == ("2026-10-01", 1, 1)
    assert (first["needed_by"], first["order_by"], first["late"]) == ("2026-10-10", "2026-10-10", True)
    assert "Rubber" in belt["shelf"]
    assert len(belt["months"]) == 6


def test_a_planned_part_stands_in_its_month_with_the_day_to_order(client, vehicle):
    part = fitment(client, vehicle, "battery", "2023-09-01")
    due = client.get(f"/v1/vehicles/{vehicle}/schedule", params={"as_of": AS_OF}).json()["items"][0][
        "window"
    ]["likely"]
    battery = kinds(orders(client, months=24, lead_days=14))["battery"]
    month = next(one for one in battery["months"] if one["planned"])
    assert month["month"] == due[:7] + "-01"
    assert month["needed_by"] == due
    assert date.fromisoformat(month["order_by"]) == date.fromordinal(date.fromisoformat(due).toordinal() - 14)
    until = {"until": "2028-01-01", "reason": "kept on a charger"}
    made(client.post(f"/v1/fitments/{part}/put-off", json=until))
    moved = kinds(orders(client, months=24))["battery"]
    assert next(one["month"] for one in moved["months"] if one["planned"]) == "2028-01-01"
    made(client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": "sold"}))
    declined = kinds(orders(client, months=24, chance=0.999)).get("battery")
    assert declined is None or sum(one["planned"] for one in declined["months"]) == 0


def test_an_axle_is_wanted_whole(client, vehicle):
    for side, day in (("left", "2016-09-01"), ("right", "2026-09-01")):
        fitment(client, vehicle, "tyres", day, position=f"front {side}")
    tyres = kinds(orders(client))["tyres"]
    assert tyres["months"][0]["planned"] == 2
    assert tyres["safety"] is True


def test_failures_of_many_parts_are_stocked_for_though_none_is_planned(client):
    for number in range(12):
        one = car(client, name=f"car {number}")
        odometer(client, one, "2024-09-01", 70_000)
        odometer(client, one, "2026-09-01", 78_000)
        fitment(client, one, "condenser", "2020-09-01" if number % 3 else None)
    condenser = kinds(orders(client, months=12))["condenser"]
    assert sum(month["planned"] for month in condenser["months"]) == 0
    assert condenser["enough"] > condenser["expected"] > 0
    assert "Old stock" in condenser["shelf"]
    more = kinds(orders(client, months=12, chance=0.999))["condenser"]
    assert more["enough"] > condenser["enough"]


def test_the_months_add_up_to_the_whole(client, vehicle):
    fitment(client, vehicle, "battery", "2022-09-01")
    fitment(client, vehicle, "v_belt", None)
    for item in orders(client, months=12)["items"]:
        assert sum(month["expected"] for month in item["months"]) == pytest.approx(
            item["expected"], rel=0.1, abs=0.05
        )


def test_hours_go_with_the_parts(client, vehicle):
    fitment(client, vehicle, "v_belt", "2016-09-01", 52_000)
    hours = orders(client)["workshop"]
    assert len(hours) == 6
    assert hours[0]["planned"] > 0
    assert hours[0]["low"] < hours[0]["planned"] + hours[0]["unplanned"] < hours[0]["high"]


def test_a_part_found_failed_is_wanted_now(client, vehicle):
    part = fitment(client, vehicle, "brake_hose", "2025-09-01", 70_000, position="front left")
    look = {"inspected_on": "2026-09-15", "finding": "failed"}
    made(client.post(f"/v1/fitments/{part}/inspections", json=look))
    hose = kinds(orders(client))["brake_hose"]
    assert hose["months"][0]["planned"] == 1
    assert hose["expected"] == pytest.approx(1.0, abs=0.05)


def test_another_fleet_sees_nothing_of_it(client, stranger, vehicle):
    fitment(client, vehicle, "v_belt", "2016-09-01", 52_000)
    assert orders(stranger)["items"] == []


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"months": 0}, "months"),
        ({"months": 25}, "months"),
        ({"chance": 1}, "chance"),
        ({"chance": "nan"}, "chance"),
        ({"lead_days": -1}, "lead_days"),
        ({"as_of": "soon"}, "as_of"),
    ],
)
def test_a_malformed_question_is_refused(client, query, field):
    problem(client.get("/v1/parts-to-order", params=query), 422, field)
