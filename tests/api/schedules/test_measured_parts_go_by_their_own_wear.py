"""Parts measured at inspections: one measurement leaves the kind's word, several put the part's own line in its place."""

from datetime import date

import pytest

from tests.api.history.making import car, fitment, made, odometer, problem, refit, removal

KIND = "brake_pads"
READINGS = (("2019-01-01", 40_000), ("2021-01-01", 48_000), ("2023-01-01", 56_000), ("2025-01-01", 64_000))
"""4,000 km a year."""


@pytest.fixture
def vehicle(client):
    found = car(client, built="2000")
    for day, km in READINGS:
        odometer(client, found, day, km)
    return found


def look(client, part, day, mm, finding="good", **fields):
    figure = {"value": mm, "unit": "mm"} | fields
    body = {"inspected_on": day, "finding": finding, "measurement": figure}
    return made(client.post(f"/v1/fitments/{part}/inspections", json=body))


def item(client, vehicle, part):
    found = client.get(
        f"/v1/vehicles/{vehicle}/schedule", params={"as_of": "2025-01-01", "horizon_years": 10}
    ).json()["items"]
    return next(one for one in found if one["fitment_id"] == part)


def fitted(client, vehicle, position, **fields):
    return fitment(client, vehicle, KIND, "2019-01-01", 40_000, position=position, **fields)


def test_one_measurement_leaves_the_kinds_word_and_several_put_the_parts_own_in_its_place(client, vehicle):
    plain, once, slow, fast = (
        fitment(client, vehicle, KIND, "2021-01-01", 48_000, position=name) for name in "abcd"
    )
    look(client, once, "2023-01-01", 8.0, limit=3.0)
    for part, figures in ((slow, (10.8, 10.2)), (fast, (8.0, 5.0))):
        for (day, _), mm in zip(READINGS[2:], figures, strict=True):
            look(client, part, day, mm, limit=3.0)
    seen = {name: item(client, vehicle, part) for name, part in
            (("plain", plain), ("once", once), ("slow", slow), ("fast", fast))}  # fmt: skip
    assert seen["once"]["window"]["likely"] == seen["plain"]["window"]["likely"]
    assert "one measurement: the rate is that of such parts" in seen["once"]["reason"]
    # 3 mm in two years and 2 mm left: the limit is 16 months away, whatever such parts usually do
    assert date(2025, 6, 1) < date.fromisoformat(seen["fast"]["window"]["likely"]) <= date(2026, 5, 15)
    assert seen["slow"]["window"]["likely"] > seen["plain"]["window"]["likely"]
    assert "2 measurements: its own falling line" in seen["fast"]["reason"]


def test_a_measured_limit_never_lengthens_a_hard_cap(client, vehicle):
    part = fitted(client, vehicle, "a", cap={"years": 7})
    for (day, _), mm in zip(READINGS[1:], (11.0, 10.9, 10.8), strict=True):
        look(client, part, day, mm, limit=3.0)
    window = item(client, vehicle, part)["window"]
    assert window["limit"] == "2025-12-31"  # seven years of 365.25 days
    assert window["likely"] <= window["limit"]
    assert window["latest"] <= window["limit"]


def test_a_figure_at_its_limit_is_due_since_that_look_even_where_somebody_wrote_good(client, vehicle):
    part = fitted(client, vehicle, "a")
    look(client, part, "2021-01-01", 9.0)
    look(client, part, "2023-01-01", 2.9)  # the book's limit is 3 mm
    found = item(client, vehicle, part)
    assert (found["status"], found["decides"]) == ("due now", "inspection")
    assert "worn to its limit on 2023-01-01" in found["reason"]


def test_measurements_in_two_units_contradict_each_other(client, vehicle):
    part = fitted(client, vehicle, "a")
    look(client, part, "2021-01-01", 9.0)
    body = {"inspected_on": "2023-01-01", "finding": "good", "measurement": {"value": 0.3, "unit": "in"}}
    refusal = client.post(f"/v1/fitments/{part}/inspections", json=body)
    assert "mm" in problem(refusal, 409, "measurement")["detail"]


def test_a_new_life_reaches_measured_parts_too(fleet, client, vehicle):
    part = fitted(client, vehicle, "a")
    for (day, _), mm in zip(READINGS[1:], (9.5, 8.0, 6.5), strict=True):
        look(client, part, day, mm, limit=3.0)
    for number in range(4):
        other = car(client, name=f"other {number}", built="2000")
        odometer(client, other, "2019-01-01", 10_000)
        gone = fitment(client, other, KIND, "2019-01-01", 10_000)
        removal(client, gone, "2021-01-01", "worn to limit", 20_000)
    before = item(client, vehicle, part)
    assert refit(fleet, client, KIND)["result"]["cars_replanned"] == 1
    after = item(client, vehicle, part)
    assert (before["evidence"]["source"], after["evidence"]["source"]) == ("book", "fitted")
    assert "3 measurements: its own falling line" in after["reason"]


def test_a_part_that_is_no_safety_part_goes_by_its_own_wear_both_ways(client, vehicle):
    plain, slow, fast = (
        fitment(client, vehicle, "spark_plugs_ni", "2019-01-01", 40_000, position=name) for name in "abc"
    )
    for part, figures in ((slow, (0.71, 0.72, 0.73)), (fast, (0.75, 0.80, 0.85))):
        for (day, _), mm in zip(READINGS[1:], figures, strict=True):
            look(client, part, day, mm, limit=0.9)
    likely = [item(client, vehicle, part)["window"]["likely"] for part in (plain, slow, fast)]
    assert likely[2] < likely[0] < likely[1]


@pytest.mark.parametrize("figures", [(7.0, 8.0, 10.0), (10.0, 6.0, 10.0), (4.0, 10.0)])
def test_figures_that_go_back_from_the_limit_leave_the_kinds_day_and_say_why(client, vehicle, figures):
    plain, part = (fitted(client, vehicle, name) for name in "ab")
    for (day, _), mm in zip(READINGS[1:], figures, strict=False):
        look(client, part, day, mm, limit=2.0)
    seen = item(client, vehicle, part)
    assert seen["window"] == item(client, vehicle, plain)["window"]
    assert "go back from it, as no wear does (an unrecorded renewal" in seen["reason"]
    listed = client.get(
        f"/v1/vehicles/{vehicle}/due-soon", params={"as_of": "2025-01-01", "within_days": 3_650}
    )
    assert part in {one["fitment_id"] for one in listed.json()["items"]}


def test_where_the_rate_has_changed_the_last_two_measurements_are_followed(client, vehicle):
    part = fitted(client, vehicle, "a")
    for (day, _), mm in zip(READINGS[1:], (11.0, 10.9, 5.0), strict=True):
        look(client, part, day, mm, limit=3.0)
    seen = item(client, vehicle, part)
    assert "its rate has changed: 11, 10.9, 5 mm" in seen["reason"]
    assert seen["window"]["likely"] <= "2025-12-31"  # 5.9 mm in two years, 2 mm left: eight months
