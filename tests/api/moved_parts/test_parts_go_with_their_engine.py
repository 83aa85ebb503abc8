"""An engine goes into another car: its parts go on with what they have done, and neither car loses its history."""

import pytest

from tests.api.history.making import car, fitment, items, made, odometer, problem, refit, removal

KINDS = ("rotor_arm", "timing_belt", "v_belt")


@pytest.fixture
def cars(client):
    """A car that gives its engine, with three parts, and one that gets it, with a rotor arm of its own."""
    giver = car(client, name="Giver", joined_on="2014-01-01")
    taker = car(client, name="Taker", distance_unit="mi", joined_on="2014-01-01")
    odometer(client, giver, "2014-01-01", 10_000)
    odometer(client, taker, "2014-01-01", 90_000, "mi")
    parts = {kind: fitment(client, giver, kind, "2014-06-01", 12_000) for kind in KINDS}
    return giver, taker, parts, fitment(client, taker, "rotor_arm", "2019-01-01", 95_000, "mi")


def body(giver, parts, **fields):
    return {
        "from_vehicle_id": giver,
        "moved_on": "2020-06-01",
        "parts": [{"fitment_id": one, "external_ref": f"moved-{one[:8]}"} for one in parts],
        "odometer_there": {"value": 42_000, "unit": "km"},
        "odometer": {"value": 96_000, "unit": "mi"},
    } | fields


def move(client, taker, said):
    return client.post(f"/v1/vehicles/{taker}/moved-parts", json=said)


def test_distance_and_age_go_with_the_parts(client, cars):
    giver, taker, parts, own = cars
    before = {one["fitment_id"]: one for one in items(client, f"/v1/vehicles/{giver}/schedule")}
    answer = made(move(client, taker, body(giver, parts.values(), in_their_places="sold")))
    assert [one["from_fitment_id"] for one in answer["moved"]] == list(parts.values())
    assert answer["taken_off"] == [own]
    for one in answer["moved"]:
        fitted = one["fitment"]
        assert (fitted["vehicle_id"], fitted["condition"]) == (taker, "second-hand")
        assert fitted["external_ref"] == f"moved-{one['from_fitment_id'][:8]}"
        assert fitted["donor"]["distance"] == {
            "value": pytest.approx(30_000 / 1.609344, abs=0.1),
            "unit": "mi",
        }
        assert fitted["donor"]["years"] == pytest.approx(6.0, abs=0.01)
        left = client.get(f"/v1/fitments/{one['from_fitment_id']}/removal").json()
        assert (left["reason"], left["removed_on"]) == ("moved to another car", "2020-06-01")
    assert client.get(f"/v1/fitments/{own}/removal").json()["reason"] == "sold"
    after = items(client, f"/v1/vehicles/{taker}/schedule")
    assert {one["kind"] for one in after} == set(KINDS)
    assert items(client, f"/v1/vehicles/{giver}/schedule") == []
    assert {one["clocks"]["age_years"] for one in after} == {
        one["clocks"]["age_years"] for one in before.values()
    }


def lived(fleet, client, way):
    """The life fitted to six rotor arms that failed after 22,000 km to 32,000 km, the first 10,000 of them elsewhere."""
    for number in range(6):
        first = car(client, name=f"first {number}")
        odometer(client, first, "2015-01-01", 10_000)
        part = fitment(client, first, "rotor_arm", "2015-06-01", 12_000)
        end = 22_000 + 2_000 * number
        if way != "stays":
            second = car(client, name=f"second {number}")
            odometer(client, second, "2015-01-01", 50_000)
            end += 38_000
        if way == "moves":
            dials = {
                "odometer_there": {"value": 22_000, "unit": "km"},
                "odometer": {"value": 60_000, "unit": "km"},
            }
            said = body(first, [part], moved_on="2018-06-01") | dials
            part = made(move(client, second, said))["moved"][0]["fitment"]["id"]
        if way == "as if new":
            removal(client, part, "2018-06-01", "sold", 22_000)
            part = fitment(client, second, "rotor_arm", "2018-06-01", 60_000)
        removal(client, part, "2021-06-01", "failed, confirmed", end)
    assert refit(fleet, client, "rotor_arm")["state"] == "succeeded"
    life = client.get("/v1/part-kinds/rotor_arm/life").json()
    assert life["left_out"]["count"] == 0
    assert life["evidence"]["failures"] == 6
    return [life["distance"]["scale"]["value"], life["age"]["scale_years"]]


def test_a_life_in_two_cars_is_fitted_as_the_one_life_it_was(service):
    # Only the pace at the failure differs: that of the second car, not of both stretches together.
    found = {}
    for way in ("stays", "moves", "as if new"):
        fleet = service.fleet()
        with fleet.client("write") as client:
            found[way] = lived(fleet, client, way)
    assert found["moves"] == pytest.approx(found["stays"], rel=0.01)
    assert found["as if new"][1] < 0.95 * found["stays"][1]


def test_what_cannot_be_is_refused_and_nothing_is_stored(client, fleet, service, cars):
    giver, taker, parts, own = cars
    some = list(parts.values())
    stranger = service.fleet()
    with stranger.client("write") as other:
        elsewhere = car(other)
    worn = fitment(client, giver, "v_belt", "2015-06-01", position="second")
    look = {"inspected_on": "2019-06-01", "finding": "worn to limit"}
    made(client.post(f"/v1/fitments/{worn}/inspections", json=look))
    refused = [
        (body(taker, some), 422, "from_vehicle_id"),
        (body(giver, [some[0], some[0]]), 422, "parts"),
        (body(giver, []), 422, "parts"),
        (body(elsewhere, some), 409, "from_vehicle_id"),
        (body(giver, [*some, own]), 409, "parts"),
        (body(giver, [worn]), 409, "parts"),
        (body(giver, some), 409, "in_their_places"),
        (body(giver, some, in_their_places="failed, confirmed"), 422, "in_their_places"),
        (
            body(giver, some, in_their_places="sold", moved_on="2014-02-01", odometer_there=None),
            409,
            "moved_on",
        ),
        (body(giver, some, in_their_places="sold", moved_on="2030-01-01"), 422, "moved_on"),
        (
            body(giver, some, in_their_places="sold", odometer_there={"value": 900, "unit": "km"}),
            409,
            "odometer_there",
        ),
        (
            body(giver, some, in_their_places="sold", odometer={"value": 93_000, "unit": "mi"}),
            409,
            "odometer",
        ),
    ]
    for said, status, field in refused:
        problem(move(client, taker, said), status, field)
    assert problem(move(client, elsewhere, body(giver, some)), 404)
    on_car = {one["id"] for one in items(client, f"/v1/vehicles/{giver}/fitments", in_service=True)}
    assert on_car == {*some, worn}
    assert [one["id"] for one in items(client, f"/v1/vehicles/{taker}/fitments")] == [own]


def test_a_part_of_unknown_age_stays_one(client, cars):
    giver, taker, _, _ = cars
    unknown = made(
        client.post(f"/v1/vehicles/{giver}/fitments", json={"kind": "thermostat", "fitted_on": None})
    )
    (moved,) = made(move(client, taker, body(giver, [unknown["id"]])))["moved"]
    assert moved["fitment"]["donor"] is None
    (item,) = (one for one in items(client, f"/v1/vehicles/{taker}/schedule") if one["kind"] == "thermostat")
    assert item["clocks"]["age_unknown"] is True


def test_each_fault_of_a_body_is_named_once(client, cars):
    giver, taker, _, _ = cars
    errors = problem(move(client, taker, body(giver, [])), 422)["errors"]
    assert [one["field"] for one in errors] == ["parts"]


def later_by_a_move(client, kind, **fitted):
    """The limit of a part before it moved to another car, and after."""
    giver, taker = (car(client, name=name, joined_on="2024-01-01") for name in ("giver", "taker"))
    part = made(client.post(f"/v1/vehicles/{giver}/fitments", json={"kind": kind} | fitted))["id"]
    (before,) = items(client, f"/v1/vehicles/{giver}/schedule")
    made(move(client, taker, body(giver, [part], moved_on="2026-06-01", odometer=None, odometer_there=None)))
    (after,) = items(client, f"/v1/vehicles/{taker}/schedule")
    return before, after


@pytest.mark.parametrize(
    ("kind", "fitted_on"), [("brake_hose", "2014/2024"), ("brake_hose", "2019~"), ("brake_fluid", "2026")]
)
def test_no_limit_moves_later_with_its_part(client, kind, fitted_on):
    before, after = later_by_a_move(client, kind, fitted_on=fitted_on)
    assert after["window"]["limit"] <= before["window"]["limit"]
    assert after["window"]["likely"] <= before["window"]["likely"] or after["status"] == "due now"


def test_a_part_of_unknown_age_is_no_younger_than_parts_can_be_on_a_young_car(client):
    giver, taker = car(client, built="1965"), car(client, built="2022", joined_on="2023-01-01")
    part = fitment(client, giver, "tyres", None, position="front left")
    made(move(client, taker, body(giver, [part], moved_on="2026-06-01", odometer=None, odometer_there=None)))
    (after,) = items(client, f"/v1/vehicles/{taker}/schedule")
    assert after["status"] == "due now"


def test_a_worn_part_stays_one_and_a_measured_one_is_measured_anew(client, cars):
    giver, taker, _, _ = cars
    pads = fitment(client, giver, "brake_pads", "2016-01-01", 15_000, position="front left")
    look = {"inspected_on": "2019-06-01", "finding": "good", "odometer": {"value": 38_000, "unit": "km"}}

    def measure(value):
        figure = {"value": value, "unit": "mm", "limit": 2.0}
        made(client.post(f"/v1/fitments/{pads}/inspections", json=look | {"measurement": figure}))

    measure(6.0)
    said = body(giver, [pads])
    assert "it was measured before" in problem(move(client, taker, said), 409, "parts")["detail"]
    said["parts"][0]["measurement"] = {"value": 5.0, "unit": "mm", "limit": 2.0}
    moved = made(move(client, taker, said))["moved"][0]["fitment"]["id"]
    (seen,) = items(client, f"/v1/fitments/{moved}/inspections")
    assert (seen["measurement"]["value"], seen["inspected_on"]) == (5.0, "2020-06-01")
    refused = problem(client.delete(f"/v1/fitments/{pads}/removal"), 409)
    assert f"goes on in another car as fitment {moved}" in refused["detail"]
    assert client.delete(f"/v1/fitments/{moved}").status_code == 204
    assert client.delete(f"/v1/fitments/{pads}/removal").status_code == 204
    look["inspected_on"] = "2020-01-01"
    measure(1.2)
    assert "last measured at its limit" in problem(move(client, taker, said), 409, "parts")["detail"]


def test_what_ethanol_did_to_a_hose_is_not_forgiven(client):
    giver, taker = car(client, circumstances=["ethanol_fuel"]), car(client, name="taker")
    hose = fitment(client, giver, "fuel_hose_lp", "2019-01-01")
    said = body(giver, [hose], odometer=None, odometer_there=None)
    assert "has aged faster" in problem(move(client, taker, said), 409, "parts")["detail"]
    client.patch(
        f"/v1/vehicles/{taker}", json={"circumstances": ["ethanol_fuel"]}, headers={"If-Match": "*"}
    ).raise_for_status()
    made(move(client, taker, said))
