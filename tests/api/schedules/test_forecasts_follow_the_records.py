"""Each change of a car's history moves its dates at once, and taking the change back moves them back."""

from datetime import date

import pytest

from api.bridge import gather
from api.storage.session import reading
from planner.history.conversion import spells_from
from planner.history.episodes import NEXT_FITTED
from tests.api.history.making import car, fitment, made, odometer, removal, settle

AS_OF = date(2026, 10, 1)


@pytest.fixture
def vehicle(client):
    """A car of 2,000 km a year."""
    found = car(client)
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def schedule(client, vehicle, **query):
    response = client.get(
        f"/v1/vehicles/{vehicle}/schedule", params={"as_of": AS_OF, "horizon_years": 10} | query
    )
    assert response.status_code == 200, response.text
    return response.json()


def only(client, vehicle):
    (item,) = schedule(client, vehicle)["items"]
    return item


def test_taking_a_removal_without_cure_out_moves_the_date(client, vehicle):
    """Renewed on suspicion, fault stayed: that part is off. Strike the removal out and the old part comes due first."""
    old = fitment(client, vehicle, "rotor_arm", "2017-09-01", 54_000)
    removal(client, old, "2025-09-01", "on suspicion", 70_000, cured=False)
    new = fitment(client, vehicle, "rotor_arm", "2025-09-01", 70_000)
    before = only(client, vehicle)
    assert before["fitment_id"] == new
    assert client.delete(f"/v1/fitments/{old}/removal").status_code == 204
    after = {one["fitment_id"]: one for one in schedule(client, vehicle)["items"]}
    assert set(after) == {old, new}
    assert after[old]["window"]["likely"] < before["window"]["likely"]
    assert after[old]["status"] == "due now"
    assert "fitted in its place on 2025-09-01 and no removal" in after[old]["reason"]
    assert "no removal" not in after[new]["reason"]


def test_a_part_in_whose_place_another_was_fitted_is_learnt_from_until_then(fleet, client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2017-09-01", 54_000)
    fitment(client, vehicle, "rotor_arm", "2025-09-01", 70_000)
    (car_,) = gathered(fleet, vehicle)
    found = spells_from([part.history for part in car_.parts], ("age",), AS_OF)
    assert sorted(found.spells.years.lower.round().tolist()) == [1, 8]
    assert {row.cause for row in found.rows} == {"in service", NEXT_FITTED}


def gathered(fleet, vehicle):
    with reading(fleet.service.database) as session:
        return gather.cars(session, fleet.id, [vehicle])


def test_a_part_removed_on_suspicion_without_cure_counts_as_good_in_the_fit(fleet, client, vehicle):
    """And one that cured the complaint counts as three quarters of a failure (planner.history.evidence)."""
    for cured, failures in ((False, 0.0), (True, 0.75)):
        part = fitment(client, vehicle, "condenser", "2017-09-01", 54_000)
        removal(client, part, "2020-09-01", "on suspicion", 60_000, cured=cured)
        location = client.post("/v1/part-kinds/condenser/refits").headers["Location"]
        result = fleet.wait_for_job(location)["result"]
        assert result["failures"] == pytest.approx(failures)
    assert result["histories"] == pytest.approx(2)


def test_a_car_driven_more_comes_due_earlier_by_distance(client, vehicle):
    fitment(client, vehicle, "contact_points", "2024-09-01", 68_000)
    before = only(client, vehicle)
    odometer(client, vehicle, "2026-09-20", 100_000, dial_digits=6)
    after = only(client, vehicle)
    assert after["window"]["likely"] < before["window"]["likely"]
    assert after["clocks"]["distance"]["value"] > before["clocks"]["distance"]["value"] + 20_000


@pytest.mark.parametrize("finding", ["worn to limit", "failed"])
def test_a_part_found_bad_is_due_whatever_the_statistics_say(client, vehicle, finding):
    part = fitment(client, vehicle, "brake_pads", "2025-09-01", 70_000)
    before = only(client, vehicle)
    assert before["status"] != "due now"
    look = made(
        client.post(
            f"/v1/fitments/{part}/inspections", json={"inspected_on": "2026-09-15", "finding": finding}
        )
    )
    after = only(client, vehicle)
    assert (after["status"], after["decides"]) == ("due now", "inspection")
    assert "2026-09-15" in after["reason"]
    assert client.delete(f"/v1/fitments/{part}/inspections/{look['id']}").status_code == 204
    assert only(client, vehicle) == before


def test_a_repair_after_a_bad_finding_takes_the_alarm_away(client, vehicle):
    part = fitment(client, vehicle, "carburettor_seals", "2026-01-01", 71_000)
    path = f"/v1/fitments/{part}"
    made(client.post(f"{path}/inspections", json={"inspected_on": "2026-09-15", "finding": "worn to limit"}))
    assert only(client, vehicle)["decides"] == "inspection"
    made(client.post(f"{path}/repairs", json={"repaired_on": "2026-09-16", "action": "repaired"}))
    assert only(client, vehicle)["decides"] != "inspection"


def test_unknown_age_is_treated_as_old_and_never_buys_time(client, vehicle):
    fitment(client, vehicle, "coolant_hose", None, position="top")
    fitment(client, vehicle, "coolant_hose", "2025-09-01", 70_000, position="bottom")
    found = {one["position"]: one for one in schedule(client, vehicle)["items"]}
    assert found["top"]["clocks"]["age_unknown"] is True
    assert found["top"]["window"]["likely"] <= found["bottom"]["window"]["likely"]
    assert found["top"]["status"] == "due now"
    assert "treated as" in found["top"]["clocks"]["words"]


def test_a_second_hand_part_brings_its_donors_life(client, vehicle):
    donor = {"distance": {"value": 30_000, "unit": "km"}, "years": 6}
    fitment(client, vehicle, "water_pump", "2025-09-01", 70_000, condition="second-hand", donor=donor)
    clocks = only(client, vehicle)["clocks"]
    assert clocks["age_years"] == pytest.approx(7.1, abs=0.1)
    assert clocks["distance"]["value"] == pytest.approx(32_200, rel=0.02)


def test_the_shortest_limit_wins(fleet, client, vehicle):
    """Catalogue, fleet, fitment: each shorter one moves the date forward, a longer one moves nothing."""
    part = fitment(client, vehicle, "tyres", "2024-09-01", 68_000)
    book = only(client, vehicle)["window"]["limit"]
    assert book is not None
    settle(fleet, client.put("/v1/part-kinds/tyres/settings", json={"cap": {"years": 30}}))
    assert only(client, vehicle)["window"]["limit"] == book
    settle(fleet, client.put("/v1/part-kinds/tyres/settings", json={"cap": {"years": 4}}))
    assert only(client, vehicle)["window"]["limit"] == "2028-09-01"
    assert client.delete(f"/v1/fitments/{part}").status_code == 204
    fitment(client, vehicle, "tyres", "2024-09-01", 68_000, cap={"years": 3})
    item = only(client, vehicle)
    assert item["window"]["limit"] == "2027-09-01"
    assert item["window"]["latest"] <= "2027-09-01"


def test_no_costs_and_no_evidence_carry_a_safety_part_past_its_limit(fleet, client, vehicle):
    fitment(client, vehicle, "brake_fluid", "2025-09-01", 70_000)
    limit = only(client, vehicle)["window"]["limit"]
    settle(
        fleet,
        client.put(
            "/v1/part-kinds/brake_fluid/settings",
            json={"costs": {"planned": 500, "failure": 500}, "max_risk": 0.99},
        ),
    )
    for number in range(5):  # parts that lasted for ever
        other = car(client, name=f"other {number}", joined_on="1990-01-01")
        part = fitment(client, other, "brake_fluid", "1990-01-01")
        removal(client, part, "2020-01-01", "preventive")
    job = fleet.wait_for_job(client.post("/v1/part-kinds/brake_fluid/refits").headers["Location"])
    assert job["state"] == "succeeded"
    window = only(client, vehicle)["window"]
    assert window["limit"] == limit
    assert window["likely"] <= window["latest"] <= limit


def test_a_car_without_any_figure_is_told_so(client):
    vehicle = car(client, name="unread")
    fitment(client, vehicle, "rotor_arm", "2022-09-01")
    answer = schedule(client, vehicle)
    assert "no odometer figure" in answer["yearly_distance"]["basis"]
    assert "guess" in answer["items"][0]["clocks"]["words"]


def test_parts_that_may_run_to_failure_stand_last_and_say_so(client, vehicle):
    fitment(client, vehicle, "condenser", "2024-09-01", 68_000)
    fitment(client, vehicle, "rotor_arm", "2024-09-01", 68_000)
    first, last = schedule(client, vehicle)["items"]
    assert (first["kind"], last["kind"]) == ("rotor_arm", "condenser")
    assert (last["status"], last["decides"]) == ("run to failure", "run to failure")
    assert last["window"]["likely"] is None
    assert "carry a spare" in last["reason"]
    assert last["chance_to_window_end"]["words"].endswith("within a year")


def test_a_part_found_dead_ends_its_forecast(client, vehicle):
    part = fitment(client, vehicle, "rotor_arm", "2017-09-01", 54_000)
    removal(client, part, "2021-09-01", "found dead after standing")
    assert schedule(client, vehicle)["items"] == []
