"""A case ranks the parts that are on the car, moves with each step, and ends in the histories."""

from datetime import timedelta

import pytest

from tests.api.faults.cases import DAMP, HOT, TODAY, WELL, car_with, closed, opened, step, suspect, years_ago
from tests.api.history.making import fitment, items, problem, refit, removal


@pytest.fixture
def damp(client):
    return car_with(client, DAMP)


def test_old_leads_come_first_in_damp_with_book_and_this_car_apart(client, reading, damp):
    vehicle, parts = damp
    case = opened(client, vehicle, note="after the first wet night")
    first = case["ranking"]["suspects"][0]
    assert first["fitment_id"] == parts["ht_leads"]
    assert first["low"] <= first["chance"] <= first["high"] < 1
    assert first["odds"].startswith("about ")
    assert first["book"]["chance"] < first["chance"]
    assert first["car_ratio"] > 1 > suspect(case, parts["distributor_cap"])["car_ratio"]
    assert {one["fitment_id"] for one in case["ranking"]["suspects"]} <= set(parts.values())
    assert 0 < case["ranking"]["something_else"]["chance"] < 1
    assert 0 < case["ranking"]["second_fault"]["chance"] < 1
    assert (case["state"], case["noted_on"], case["closing"]) == ("open", TODAY.isoformat(), None)
    assert reading.get(f"/v1/fault-findings/{case['id']}").json() == case
    listed = items(reading, f"/v1/vehicles/{vehicle}/fault-findings")
    assert [(one["id"], one["title"]) for one in listed] == [(case["id"], case["title"])]


def test_a_quiet_mist_test_moves_the_leads_down_by_the_books_ratio(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    after = step(client, case, check="mist_in_the_dark", outcome="good")
    stated = (1 - 0.70) / 0.92  # the book's sensitivity and specificity of this check
    leads = suspect(after, parts["ht_leads"])
    assert leads["check_ratio"] == pytest.approx(stated, abs=5e-4)
    assert leads["chance"] < suspect(case, parts["ht_leads"])["chance"]
    assert after["steps"][0]["words"].endswith("shows good")


def test_a_step_with_the_fault_seldom_there_says_less(client, damp):
    vehicle, parts = damp
    sure = step(client, opened(client, vehicle), check="mist_in_the_dark", outcome="good")
    unsure = step(
        client, opened(client, vehicle), check="mist_in_the_dark", outcome="good", fault_present=0.5
    )
    leads = parts["ht_leads"]
    assert suspect(sure, leads)["check_ratio"] < suspect(unsure, leads)["check_ratio"] < 1


def test_coil_and_condenser_renewed_in_vain_leave_the_aged_sensor_first(client):
    vehicle, parts = car_with(client, HOT, system=None)
    case = opened(client, vehicle, "hot_no_start")
    assert suspect(case, parts["cam_hall_sensor"])["chance"] < 0.5
    for kind in ("ignition_coil", "condenser"):
        case = step(client, case, renewed=[parts[kind]], cured=False)
    case = step(client, case, check="fuel_pressure", outcome="good")
    assert case["ranking"]["suspects"][0]["fitment_id"] == parts["cam_hall_sensor"]
    assert suspect(case, parts["ignition_coil"])["renewed"]
    assert suspect(case, parts["ignition_coil"])["chance"] < 0.05


def test_the_next_step_is_a_check_and_says_what_each_result_would_do(client, reading):
    vehicle, _ = car_with(client, HOT, system=None)
    case = opened(client, vehicle, "hot_no_start")
    advice = reading.get(f"/v1/fault-findings/{case['id']}/next-step").json()
    assert advice["step"]["kind"] == "check"
    assert advice["dont_buy_yet"].startswith("Don't buy a part yet")
    assert advice["value_of_checking"] > 0
    assert advice["options"][0] == advice["step"]
    assert advice["options"][0]["expected_cost"] <= min(one["expected_cost"] for one in advice["options"])
    assert sum(one["chance"] for one in advice["outcomes"]) == pytest.approx(1, abs=0.02)
    assert all(one["ranking"]["suspects"] for one in advice["outcomes"])
    assert advice["currency"] == "GBP"


def test_a_complaint_that_forbids_driving_says_so(client):
    vehicle, _ = car_with(client, {"brake_fluid": 9, "brake_seals": 30, "brake_hose": 30})
    case = opened(client, vehicle, "sinking_pedal")
    assert case["stop_driving"]
    advice = client.get(f"/v1/fault-findings/{case['id']}/next-step").json()
    assert advice["stop_driving"] == case["stop_driving"]


def test_closing_writes_evidence_and_plans_the_car_anew(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["rotor_arm"]], cured=False, done_on=WELL)
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    ended = closed(client, case, cured=True, confirmed=[parts["ht_leads"]])
    assert (ended["state"], ended["closing"]["by"]) == ("closed", [parts["ht_leads"]])
    written = {one["fitment_id"]: one for one in ended["closing"]["removals"]}
    assert written.keys() == {parts["ht_leads"], parts["rotor_arm"]}
    assert all(one["written"] for one in written.values())
    arm = client.get(f"/v1/fitments/{parts['rotor_arm']}/removal").json()
    assert (arm["reason"], arm["cured"], arm["removed_on"]) == ("on suspicion", False, WELL)
    leads = client.get(f"/v1/fitments/{parts['ht_leads']}/removal").json()
    assert (leads["reason"], leads["cured"]) == ("failed, confirmed", True)
    planned = {
        one["fitment_id"] for one in items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
    }
    assert not planned & written.keys()
    assert sum(one["chance"] for one in ended["closing"]["causes"]) == pytest.approx(1, abs=1e-3)


def test_a_refit_counts_what_a_closed_case_wrote(fleet, client, damp):
    vehicle, parts = damp
    before = refit(fleet, client, "ht_leads")["result"]
    case = opened(client, vehicle)
    closed(client, case, cured=True, by=[parts["ht_leads"]], confirmed=[parts["ht_leads"]])
    after = refit(fleet, client, "ht_leads")["result"]
    assert (before["failures"], after["failures"]) == (0, 1)
    in_vain = refit(fleet, client, "ignition_coil")["result"]
    other = opened(client, vehicle)
    step(client, other, renewed=[parts["ignition_coil"]], cured=False)
    closed(client, other, cured=False)
    assert refit(fleet, client, "ignition_coil")["result"]["failures"] == in_vain["failures"] == 0


def test_a_complaint_that_comes_back_makes_the_cure_a_renewal_in_vain(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    case = step(client, case, renewed=[parts["ht_leads"]], cured=True)
    assert not suspect(case, parts["ht_leads"])["renewed"]
    problem(client.get(f"/v1/fault-findings/{case['id']}/next-step"), 404)
    case = step(client, case, check="mist_in_the_dark", outcome="good")
    assert suspect(case, parts["ht_leads"])["renewed"]


def test_given_up_teaches_no_cause(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    ended = closed(client, case, cured=False)
    assert ended["closing"]["causes"] == []
    assert [(one["cured"], one["reason"]) for one in ended["closing"]["removals"]] == [
        (False, "on suspicion")
    ]
    assert opened(client, vehicle)["shares"]["cases"] == 0


def test_a_removal_that_the_keeper_wrote_stands(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"]], cured=True)
    removal(client, parts["ht_leads"], TODAY.isoformat(), "looked worn")
    fitment(client, vehicle, "ht_leads", TODAY.isoformat())
    ended = closed(client, case, cured=True)
    assert [one["written"] for one in ended["closing"]["removals"]] == [False]
    assert client.get(f"/v1/fitments/{parts['ht_leads']}/removal").json()["reason"] == "looked worn"


def test_several_parts_renewed_at_once_are_one_complaint_weighed_by_what_each_is_worth(fleet, client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, check="cap_look", outcome="good")
    pair = [parts["ht_leads"], parts["distributor_cap"]]
    step(client, case, renewed=pair, cured=True)
    ended = closed(client, case, cured=True)
    written = {one["fitment_id"]: one for one in ended["closing"]["removals"]}
    assert {one["changed_together"] for one in written.values()} == {2}
    weights = {one["fitment_id"]: one["chance"] for one in ended["closing"]["causes"]}
    assert weights[parts["ht_leads"]] > weights[parts["distributor_cap"]] > 0
    leads, cap = (client.get(f"/v1/fitments/{part}/removal").json() for part in pair)
    assert leads["shared_event"] == cap["shared_event"] == f"fault-finding {case['id']}"
    assert cap["complaint_fit"] == written[parts["distributor_cap"]]["complaint_fit"]
    assert 0 < cap["complaint_fit"] < leads["complaint_fit"] <= 1  # looked into, the cap fits it less well
    result = refit(fleet, client, "distributor_cap")["result"]
    assert result["shared_events"] == 1


def test_a_part_that_cannot_show_it_came_out_while_there(fleet, client):
    vehicle, parts = car_with(client, DAMP | {"tyres": 5})
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"], parts["tyres"]], cured=True)
    ended = closed(client, case, cured=True)
    written = {one["fitment_id"]: one for one in ended["closing"]["removals"]}
    tyres, leads = written[parts["tyres"]], written[parts["ht_leads"]]
    assert (tyres["reason"], tyres["shared_event"]) == ("while there", None)
    assert (leads["reason"], leads["changed_together"]) == ("on suspicion", 1)
    assert refit(fleet, client, "tyres")["result"]["failures"] == 0


def test_a_bench_test_settles_which_of_several_it_was(client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)
    step(client, case, renewed=[parts["ht_leads"], parts["distributor_cap"]], cured=True)
    ended = closed(client, case, cured=True, confirmed=[parts["distributor_cap"]])
    reasons = {one["fitment_id"]: one["reason"] for one in ended["closing"]["removals"]}
    assert reasons == {parts["ht_leads"]: "while there", parts["distributor_cap"]: "failed, confirmed"}
    assert {one["shared_event"] for one in ended["closing"]["removals"]} == {None}


def test_a_part_of_unknown_age_is_suspected_without_being_sure(client):
    vehicle, parts = car_with(client, {kind: age for kind, age in DAMP.items() if kind != "ht_leads"})
    unknown = fitment(client, vehicle, "ht_leads", None)
    case = opened(client, vehicle)
    assert 0 < suspect(case, unknown)["chance"] < 0.95
    assert suspect(case, parts["distributor_cap"])["chance"] > 0


def test_not_to_know_when_a_part_was_fitted_never_speaks_for_it(client):
    others = {"contact_points": 3, "ignition_coil": 10}
    chance = {}
    for told, fitted_on in (("young", years_ago(0.3)), ("unknown", None)):
        vehicle, _ = car_with(client, others)
        part = fitment(client, vehicle, "condenser", fitted_on)
        chance[told] = suspect(opened(client, vehicle, "misfire_when_warm"), part)["chance"]
    assert chance["unknown"] >= chance["young"]


def test_a_part_renewed_since_the_car_ran_well_may_be_bad_from_new(client, damp):
    vehicle, parts = damp
    removal(client, parts["distributor_cap"], years_ago(0.1), "preventive")
    cap = fitment(client, vehicle, "distributor_cap", years_ago(0.1))
    case = opened(client, vehicle)
    ran_well_with_it = opened(client, vehicle, last_ran_well=years_ago(0.05))
    assert suspect(case, cap)["car_ratio"] > 2 * suspect(ran_well_with_it, cap)["car_ratio"]
    assert parts["distributor_cap"] not in {one["fitment_id"] for one in case["ranking"]["suspects"]}


def test_a_dangerous_complaint_opens_and_warns_where_no_part_on_record_can_cause_it(client, reading):
    vehicle, parts = car_with(client, {"tyres": 5})
    case = opened(client, vehicle, "sinking_pedal")
    assert "towed" in case["stop_driving"]
    assert case["ranking"]["suspects"] == []
    assert case["ranking"]["something_else"]["chance"] == 1
    missing = {one["kind"]: one["share"] for one in case["not_on_record"]}
    assert missing == {"brake_seals": 0.60, "brake_fluid": 0.25, "brake_hose": 0.10}  # the book's lines
    assert case["record"].startswith("Not on record here: ")
    advice = reading.get(f"/v1/fault-findings/{case['id']}/next-step").json()
    assert (advice["step"]["kind"], advice["stop_driving"]) == ("hand over", case["stop_driving"])
    assert (advice["record"], advice["dont_buy_yet"]) == (case["record"], None)
    ended = closed(client, step(client, case, renewed=[parts["tyres"]], cured=False), cured=True)
    assert [one["chance"] for one in ended["closing"]["causes"]] == [1]
    fitment(client, vehicle, "brake_seals", years_ago(30))
    again = opened(client, vehicle, "sinking_pedal")
    assert [one["kind"] for one in again["not_on_record"]] == ["brake_fluid", "brake_hose"]
    assert again["ranking"]["suspects"][0]["kind"] == "brake_seals"


def test_what_is_due_anyway_is_said_to_be_so_and_never_held_back(client, reading):
    vehicle, parts = car_with(client, {"brake_fluid": 9, "brake_seals": 30})
    hose = fitment(client, vehicle, "brake_hose", years_ago(3))
    case = opened(client, vehicle, "sinking_pedal")
    advice = reading.get(f"/v1/fault-findings/{case['id']}/next-step").json()
    due = {one["ref"]: one["due_anyway"] for one in advice["options"] if one["kind"] == "renew"}
    # the book's cap of brake fluid is 2 to 3 years; a hose of three years is neither past its cap nor its day
    assert due[parts["brake_fluid"]] == "due anyway by its limit, whatever the fault is"
    assert due[hose] is None
    (fluid,) = [one for one in advice["options"] if one["ref"] == parts["brake_fluid"]]
    # the book's costs: a planned renewal carries half of the labour, one on its own all of it
    assert fluid["spent_anyway"] == pytest.approx(fluid["money"] + fluid["minutes"] / 2, rel=0.02)
    assert (
        f"Brake fluid (glycol): due anyway by its limit, whatever the fault is; renewing it now costs about "
        f"{fluid['outlay']:g} GBP and in all costs about {fluid['minutes'] / 2:g} GBP more than on its own day."
    ) in advice["due_anyway"]
    (new,) = [one for one in advice["options"] if one["ref"] == hose]
    assert new["spent_anyway"] == 0
    assert "fluid" not in (advice["dont_buy_yet"] or "").partition(",")[0]
    assert not (advice["dont_buy_yet"] or "").startswith("Don't buy a part yet")


def test_a_renewal_whose_window_closes_soon_takes_the_place_of_a_planned_one_unless_it_was_put_off(
    client, reading
):
    vehicle, parts = car_with(client, {"v_belt": 9, "battery": 1, "alternator_brushes": 5})
    case = opened(client, vehicle, "charge_light")
    path = f"/v1/fault-findings/{case['id']}/next-step"
    spent = {one["ref"]: one["spent_anyway"] for one in reading.get(path).json()["options"]}
    assert spent[parts["v_belt"]] > 0
    assert spent[parts["battery"]] == 0
    told = reading.get(path).json()["due_anyway"]
    assert "(V-belt): its own renewal is near anyway; renewing it now costs about" in told
    later = {"until": (TODAY + timedelta(days=300)).isoformat(), "reason": "sold in spring"}
    assert client.post(f"/v1/fitments/{parts['v_belt']}/put-off", json=later).status_code == 201
    after = reading.get(path).json()
    assert {one["ref"]: one["spent_anyway"] for one in after["options"]}[parts["v_belt"]] == 0
    assert after["due_anyway"] is None
