"""Bad records: refused with the field's name, and not a row of the fleet is other than before."""

import json

import pytest

from tests.api.history.counting import rows_of
from tests.api.history.making import car, fitment, odometer, problem, removal

READING = {"read_on": "2021-01-01", "reading": {"value": 62_000, "unit": "km"}}
FITTED = {"kind": "rotor_arm", "fitted_on": "2020-01-01"}
TAKEN_OFF = {"removed_on": "2022-01-01", "reason": "preventive"}
SEEN = {"inspected_on": "2022-01-01", "finding": "good"}
CLEANED = {"repaired_on": "2022-01-01", "action": "cleaned"}
FUTURE = "2999-01-01"


@pytest.fixture
def known(fleet, client):
    """A car with readings in 2018, 2020 and 2023 and a part fitted in 2019; what the fleet's rows are."""
    vehicle = car(client)
    odometer(client, vehicle, "2018-01-01", 50_000)
    odometer(client, vehicle, "2020-01-01", 60_000)
    odometer(client, vehicle, "2023-01-01", 70_000)
    part = fitment(client, vehicle, "distributor_cap", "2019-01-01", 55_000)
    return {"vehicle": vehicle, "part": part, "rows": rows_of(fleet)}


def refused(fleet, client, known, path, body, status, field):
    response = client.post(
        path.format(**known), content=json.dumps(body), headers={"Content-Type": "application/json"}
    )
    found = problem(response, status, field)
    assert rows_of(fleet) == known["rows"]
    return found


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"reading": {"value": 59_000, "unit": "km"}}, 409, "reading"),  # falls
        ({"reading": {"value": 80_000, "unit": "km"}}, 409, "reading"),  # makes the later one fall
        ({"reading": {"value": -1, "unit": "km"}}, 422, "reading.value"),
        ({"reading": {"value": 62_000, "unit": "league"}}, 422, "reading.unit"),
        ({"reading": {"value": 1e12, "unit": "km"}}, 422, "reading.value"),
        ({"reading": {"value": 9_000_000, "unit": "km"}}, 422, "reading.value"),
        ({"reading": {"value": float("nan"), "unit": "km"}}, 422, "reading.value"),
        ({"reading": {"value": float("inf"), "unit": "km"}}, 422, "reading.value"),
        ({"reading": 62_000}, 422, "reading"),
        ({"reading": None}, 422, "reading"),
        ({"read_on": FUTURE}, 422, "read_on"),
        ({"read_on": "2021-02-30"}, 422, "read_on"),
        ({"read_on": "1700-01-01"}, 422, "read_on"),
        ({"read_on": "1967-12-31", "reading": {"value": 0, "unit": "km"}}, 409, "read_on"),  # built in 1968
        ({"dial_digits": 3}, 422, "dial_digits"),
        ({"dial_digits": 4}, 422, "dial_digits"),  # four digits cannot show 62,000
        ({"rollovers": -1}, 422, "rollovers"),
        ({"odometer": 3}, 422, "odometer"),
    ],
)
def test_readings(fleet, client, known, change, status, field):
    refused(fleet, client, known, "/v1/vehicles/{vehicle}/odometer-readings", READING | change, status, field)


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"kind": "flux_capacitor"}, 422, "kind"),
        ({"kind": ""}, 422, "kind"),
        ({"fitted_on": FUTURE}, 422, "fitted_on"),
        ({"fitted_on": "last spring"}, 422, "fitted_on"),
        ({"fitted_on": "1960"}, 409, "fitted_on"),  # before the car was built
        ({"odometer": {"value": -5, "unit": "km"}}, 422, "odometer.value"),
        ({"odometer": {"value": 90_000, "unit": "km"}}, 409, "odometer"),  # the car's readings say 60,000
        ({"odometer": {"value": 60_000, "unit": "chain"}}, 422, "odometer.unit"),
        ({"condition": "polished"}, 422, "condition"),
        ({"donor": {"years": 3}}, 422, "donor"),  # a new part has no donor
        ({"made_on": "2021"}, 422, "made_on"),  # made after it was fitted
        ({"made_on": FUTURE}, 422, "made_on"),
        ({"original_chance": 1.1}, 422, "original_chance"),
        ({"original_chance": -0.1}, 422, "original_chance"),
        ({"cap": {"years": 0}}, 422, "cap.years"),
        ({"cap": {"distance": {"value": 0, "unit": "km"}}}, 422, "cap.distance.value"),
        ({"cap": {"years": float("nan")}}, 422, "cap.years"),
    ],
)
def test_fitments(fleet, client, known, change, status, field):
    refused(fleet, client, known, "/v1/vehicles/{vehicle}/fitments", FITTED | change, status, field)


@pytest.mark.parametrize(
    ("change", "status", "field"),
    [
        ({"removed_on": "2018-06-01"}, 409, "removed_on"),  # before it was fitted
        ({"removed_on": FUTURE}, 422, "removed_on"),
        ({"removed_on": "2022-01-01", "odometer": {"value": 54_000, "unit": "km"}}, 409, "odometer"),
        ({"removed_on": "2022~", "odometer": {"value": 54_000, "unit": "km"}}, 409, "odometer"),
        ({"reason": "felt like it"}, 422, "reason"),
        ({"cured": "perhaps"}, 422, "cured"),
        ({"changed_together": 0}, 422, "changed_together"),
        ({"shared_event": "misfire"}, 422, "shared_event"),  # renewed preventively: against no complaint
        (
            {"reason": "failed, confirmed", "shared_event": "misfire"},
            422,
            "shared_event",
        ),  # the cause is known
        ({"reason": "on suspicion", "complaint_fit": 0.5}, 422, "complaint_fit"),  # of which complaint?
        ({"reason": "on suspicion", "shared_event": "misfire", "complaint_fit": 1.2}, 422, "complaint_fit"),
        ({"reason": "on suspicion", "shared_event": "misfire", "complaint_fit": 0}, 422, "complaint_fit"),
        ({"reason": "on suspicion", "shared_event": ""}, 422, "shared_event"),
        ({"odometer": {"value": float("-inf"), "unit": "km"}}, 422, "odometer.value"),
    ],
)
def test_removals(fleet, client, known, change, status, field):
    refused(fleet, client, known, "/v1/fitments/{part}/removal", TAKEN_OFF | change, status, field)


@pytest.mark.parametrize(
    ("path", "body", "status", "field"),
    [
        ("inspections", SEEN | {"inspected_on": FUTURE}, 422, "inspected_on"),
        ("inspections", SEEN | {"inspected_on": "2018-06-01"}, 409, "inspected_on"),
        ("inspections", SEEN | {"finding": "so-so"}, 422, "finding"),
        ("inspections", SEEN | {"odometer": {"value": 54_000, "unit": "km"}}, 409, "odometer"),
        ("inspections", SEEN | {"measurement": {"value": 3.0}}, 422, "measurement.unit"),
        (
            "inspections",
            SEEN | {"measurement": {"value": float("nan"), "unit": "mm"}},
            422,
            "measurement.value",
        ),
        ("repairs", CLEANED | {"repaired_on": FUTURE}, 422, "repaired_on"),
        ("repairs", CLEANED | {"repaired_on": "2018-06-01"}, 409, "repaired_on"),
        ("repairs", CLEANED | {"action": "blessed"}, 422, "action"),
    ],
)
def test_inspections_and_repairs(fleet, client, known, path, body, status, field):
    refused(fleet, client, known, f"/v1/fitments/{{part}}/{path}", body, status, field)


def test_a_part_that_had_failed_is_not_good_again_without_a_repair(fleet, client, known):
    looks = f"/v1/fitments/{known['part']}/inspections"
    assert client.post(looks, json=SEEN | {"finding": "failed"}).status_code == 201
    known["rows"] = rows_of(fleet)
    again = SEEN | {"inspected_on": "2022-06-01"}
    found = refused(fleet, client, known, "/v1/fitments/{part}/inspections", again, 409, "finding")
    assert "repair recorded between" in found["detail"]
    mended = {"repaired_on": "2022-03-01", "action": "repaired"}
    assert client.post(f"/v1/fitments/{known['part']}/repairs", json=mended).status_code == 201
    assert client.post(looks, json=again).status_code == 201


def test_an_unknown_kind_is_told_its_neighbours(fleet, client, known):
    body = FITTED | {"kind": "rotor arms"}
    found = refused(fleet, client, known, "/v1/vehicles/{vehicle}/fitments", body, 422, "kind")
    assert "rotor_arm" in found["errors"][0]["wanted"]


def test_a_second_removal(fleet, client, known):
    removal(client, known["part"], "2022-01-01", "preventive")
    known["rows"] = rows_of(fleet)
    refused(
        fleet,
        client,
        known,
        "/v1/fitments/{part}/removal",
        TAKEN_OFF | {"removed_on": "2022-06-01"},
        409,
        None,
    )


def test_a_look_after_the_removal(fleet, client, known):
    removal(client, known["part"], "2022-01-01", "preventive")
    known["rows"] = rows_of(fleet)
    body = SEEN | {"inspected_on": "2022-06-01"}
    refused(fleet, client, known, "/v1/fitments/{part}/inspections", body, 409, "inspected_on")


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("/v1/vehicles/{vehicle}/odometer-readings", READING | {"reading": {"value": 71_000, "unit": "km"}, "read_on": "2024-01-01"}),
        ("/v1/vehicles/{vehicle}/fitments", FITTED),
        ("/v1/fitments/{part}/removal", TAKEN_OFF),
        ("/v1/fitments/{part}/inspections", SEEN),
        ("/v1/fitments/{part}/repairs", CLEANED),
    ],
)  # fmt: skip
def test_another_fleets_car_and_part_are_not_found(fleet, client, stranger, known, path, body):
    problem(stranger.post(path.format(**known), json=body), 404)
    assert rows_of(fleet) == known["rows"]
    assert client.post(path.format(**known), json=body).status_code == 201  # it was only the key


SUSPECTED = {"removed_on": "2022-01-01", "reason": "on suspicion", "cured": True, "shared_event": "misfire"}


@pytest.mark.parametrize(
    ("before", "after", "field"),
    [
        ({}, {"cured": False}, "cured"),  # one complaint, one outcome
        ({}, {"cured": None}, "cured"),
        (
            {"changed_together": 1},
            {"changed_together": 1, "elsewhere": True},
            "shared_event",
        ),  # another car's part
        ({"changed_together": 2}, {"third": True}, "changed_together"),
        ({"changed_together": 2}, {"changed_together": 3}, "changed_together"),
        ({}, {"removed_on": "2024-01-01"}, "removed_on"),  # renewed at once: not two years apart
    ],
)
def test_parts_that_share_a_complaint_must_agree(fleet, client, known, before, after, field):
    first = fitment(client, known["vehicle"], "rotor_arm", "2019-01-01")
    made = client.post(f"/v1/fitments/{first}/removal", json=SUSPECTED | before)
    assert made.status_code == 201, made.text
    assert made.json()["shared_event"] == "misfire"
    if after.pop("third", False):
        second = fitment(client, known["vehicle"], "condenser", "2019-01-01")
        assert client.post(f"/v1/fitments/{second}/removal", json=SUSPECTED).status_code == 201
    if after.pop("elsewhere", False):
        known["part"] = fitment(client, car(client, name="Otto"), "distributor_cap", "2019-01-01")
    known["rows"] = rows_of(fleet)
    refused(fleet, client, known, "/v1/fitments/{part}/removal", SUSPECTED | after, 409, field)


def test_another_fleet_may_use_the_same_name_for_a_complaint(client, stranger, known):
    assert client.post(f"/v1/fitments/{known['part']}/removal", json=SUSPECTED).status_code == 201
    theirs = fitment(stranger, car(stranger), "distributor_cap", "2019-01-01")
    assert stranger.post(f"/v1/fitments/{theirs}/removal", json=SUSPECTED).status_code == 201
