"""The fleet's list and one car's: what belongs on them, in which order, page by page, for nobody else's eyes."""

from datetime import date, timedelta

import pytest

from tests.api.history.making import car, fitment, items, problem

AS_OF = date(2026, 10, 1)
KINDS = ("rotor_arm", "distributor_cap", "coolant_hose", "v_belt")


@pytest.fixture
def cars(client):
    """Three cars, four parts each, of different ages."""
    found = [car(client, name=name) for name in ("Ada", "Bea", "Cleo")]
    for number, vehicle in enumerate(found):
        for place, kind in enumerate(KINDS):
            fitment(client, vehicle, kind, f"20{15 + 3 * number + place % 3}-0{1 + place}-01")
    return found


def all_of(client, **query):
    found, path = [], client.build_request("GET", "/v1/due-soon", params={"as_of": AS_OF} | query).url
    pages = 0
    while path:
        response = client.get(path)
        assert response.status_code == 200, response.text
        found += response.json()["items"]
        path, pages = response.links.get("next", {}).get("url"), pages + 1
    return found, pages


def test_within_days_draws_the_line_at_the_likely_day(client, cars):
    everything, _ = all_of(client, within_days=3660)
    assert len(everything) == 12
    likely = sorted(date.fromisoformat(one["window"]["likely"]) for one in everything)
    ahead = [day for day in likely if day > AS_OF]
    assert 0 < len(ahead) < 12
    days = (ahead[0] - AS_OF).days
    until, _ = all_of(client, within_days=days)
    assert {one["fitment_id"] for one in until} == {
        one["fitment_id"] for one in everything if date.fromisoformat(one["window"]["likely"]) <= ahead[0]
    }
    short, _ = all_of(client, within_days=days - 1)
    assert len(short) == len(until) - 1
    now, _ = all_of(client, within_days=0)
    assert {one["status"] for one in now} == {"due now"}


def test_pages_hold_the_same_list_in_order(client, cars):
    whole, one_page = all_of(client, within_days=3660, limit=200)
    paged, pages = all_of(client, within_days=3660, limit=5)
    assert (one_page, pages) == (1, 3)
    assert paged == whole
    overdue = [one for one in whole if one["status"] == "due now"]
    assert whole[: len(overdue)] == overdue
    ahead = [one["window"]["likely"] for one in whole[len(overdue) :]]
    assert ahead == sorted(ahead)


def test_one_cars_list_is_its_part_of_the_fleets(client, cars):
    fleet_wide, _ = all_of(client, within_days=3660)
    for vehicle in cars:
        mine = items(client, f"/v1/vehicles/{vehicle}/due-soon", as_of=AS_OF, within_days=3660)
        assert mine == [one for one in fleet_wide if one["vehicle_id"] == vehicle]


def test_the_answer_says_for_which_day_it_speaks(client, cars):
    asked = client.get("/v1/due-soon", params={"as_of": AS_OF, "within_days": 30}).json()
    assert (asked["as_of"], asked["within_days"]) == (AS_OF.isoformat(), 30)
    today = date.fromisoformat(client.get("/v1/due-soon").json()["as_of"])
    assert abs(today - date.today()) <= timedelta(days=1)  # noqa: DTZ011 - the fleet's zone is a day off at most


def test_another_fleet_sees_nothing(client, stranger, cars):
    assert items(stranger, "/v1/due-soon", within_days=3660) == []
    for path in ("due-soon", "schedule", "risk"):
        problem(stranger.get(f"/v1/vehicles/{cars[0]}/{path}"), 404)


def test_the_schedule_ends_at_its_horizon(client, cars):
    path = f"/v1/vehicles/{cars[2]}/schedule"
    young = date(2023, 6, 1)  # when the youngest part had just been fitted
    near = client.get(path, params={"as_of": young, "horizon_years": 0.1}).json()["items"]
    far = client.get(path, params={"as_of": young, "horizon_years": 10}).json()["items"]
    assert len(near) < len(far) == 4
    assert [one["window"]["likely"] for one in far] == sorted(one["window"]["likely"] for one in far)


@pytest.mark.parametrize(
    ("path", "query", "field"),
    [
        ("/v1/due-soon", {"as_of": "tomorrow"}, "as_of"),
        ("/v1/due-soon", {"as_of": "1066-10-14"}, "as_of"),
        ("/v1/due-soon", {"within_days": -1}, "within_days"),
        ("/v1/due-soon", {"within_days": 1e9}, "within_days"),
        ("/v1/due-soon", {"limit": 0}, "limit"),
        ("/v1/vehicles/{car}/due-soon", {"within_days": "soon"}, "within_days"),
        ("/v1/vehicles/{car}/schedule", {"horizon_years": 0}, "horizon_years"),
        ("/v1/vehicles/{car}/schedule", {"horizon_years": "nan"}, "horizon_years"),
        ("/v1/vehicles/{car}/schedule", {"horizon_years": "inf"}, "horizon_years"),
    ],
)
def test_a_malformed_question_is_refused(client, path, query, field):
    problem(client.get(path.format(car=car(client)), params=query), 422, field)
