"""A fault case from complaint to cure by forms alone: odds, the next step, results, and how it ends."""

import pytest

from planner.faults.words import times_in_words
from tests.api.faults.cases import DAMP, HOT, TODAY, WELL, car_with, opened, step, suspect


@pytest.fixture
def damp(client):
    """A car with a damp-morning misfire waiting to be opened, and its parts."""
    return car_with(client, DAMP)


def open_by_form(keeper, vehicle, **fields):
    told = {"complaint": "misfire_in_damp", "last_ran_well": WELL, "conditions__damp": "yes", **fields}
    return keeper.send(f"/pages/cars/{vehicle}/fault", **told)


def case_of(page):
    return page.path.partition("?")[0].rpartition("/")[2]


def test_a_case_opens_with_odds_and_says_what_is_book_and_what_is_this_car(keeper, client, damp):
    vehicle, parts = damp
    page = open_by_form(keeper, vehicle)
    assert (page.status, page.path.endswith("?noted=opened")) == (200, True)
    shown = client.get(f"/v1/fault-findings/{case_of(page)}").json()
    assert shown["conditions"] == ["damp"]
    for one in shown["ranking"]["suspects"]:
        assert one["odds"] in page.text
        assert one["book"]["odds"] in page.text
        if one["car_ratio"] is not None:
            times = times_in_words(one["car_ratio"]).replace("about as much as", "about")
            assert f"{times} the chance of an average one" in page.text
    assert "The book alone" in page.text
    assert shown["ranking"]["something_else"]["odds"] in page.text
    assert set(parts.values()) >= {one["fitment_id"] for one in shown["ranking"]["suspects"]}


def test_the_next_step_says_what_each_result_would_do(keeper, client, damp):
    page = open_by_form(keeper, damp[0])
    ahead = client.get(f"/v1/fault-findings/{case_of(page)}/next-step").json()
    assert ahead["step"]["name"] in page.text
    assert ahead["reason"][1:] in page.text
    for outcome in ahead["outcomes"]:
        words = outcome["words"][:1].upper() + outcome["words"][1:]
        assert f"{words} , {outcome['odds']}" in page.text or f"{words}, {outcome['odds']}" in page.text
        if outcome["ranking"]:
            assert outcome["ranking"]["suspects"][0]["odds"] in page.text
    for option in ahead["options"]:
        assert option["name"].lower() in page.text.lower()
    assert ahead["currency"] in page.text


def test_a_checks_result_and_a_renewal_move_the_odds_and_the_case_closes_cured(keeper, client, damp):
    vehicle, parts = damp
    case = case_of(open_by_form(keeper, vehicle))
    before = suspect(client.get(f"/v1/fault-findings/{case}").json(), parts["ht_leads"])["chance"]
    page = keeper.send(
        f"/pages/faults/{case}/check?check=lead_ohms", outcome="good", note="all six within limits"
    )
    assert page.path.endswith("?noted=step"), page.text
    assert "all six within limits" in page.text
    after = suspect(client.get(f"/v1/fault-findings/{case}").json(), parts["ht_leads"])["chance"]
    assert after < before

    form = keeper.get(f"/pages/faults/{case}/renewal?renewed.{parts['ht_leads']}=yes")
    ticked = [
        found
        for tag, found in form.elements
        if tag == "input" and found.get("type") == "checkbox" and "checked" in found
    ]
    assert [found["name"] for found in ticked] == [f"renewed.{parts['ht_leads']}"]
    page = keeper.post(
        f"/pages/faults/{case}/renewal",
        {**form.fields, f"renewed.{parts['ht_leads']}": "yes", "cured": "yes"},
    )
    assert "The complaint was gone after the last step" in page.text
    assert "What each result would do" not in page.text

    page = keeper.send(f"/pages/faults/{case}/closing", closed_on=TODAY.isoformat())
    assert page.path.endswith("?noted=closed"), page.text
    assert "Cured by renewing HT leads" in page.text
    removal = client.get(f"/v1/fitments/{parts['ht_leads']}/removal").json()
    assert removal["cured"] is True
    (new,) = client.get(f"/v1/fault-findings/{case}").json()["closing"]["fitted"]
    assert f"/pages/parts/{new['fitment_id']}" in [
        found["href"] for tag, found in page.elements if tag == "a"
    ]
    assert not [found for tag, found in page.elements if tag == "a" and found["href"].endswith("/closing")]


def test_a_case_given_up_says_so_and_parts_renewed_for_nothing_count_as_good(keeper, client, damp):
    vehicle, parts = damp
    case = case_of(open_by_form(keeper, vehicle))
    page = keeper.send(
        f"/pages/faults/{case}/renewal", **{f"renewed.{parts['rotor_arm']}": "yes", "cured": "no"}
    )
    assert page.path.endswith("?noted=step"), page.text
    page = keeper.send(f"/pages/faults/{case}/closing", cured="no", fitted="none")
    assert "Given up on" in page.text
    assert "Off the car, with nothing on record in its place: Rotor arm Enter what was fitted" in page.text
    links = [found["href"] for tag, found in page.elements if tag == "a"]
    form = keeper.get(next(link for link in links if "/fitment?kind=" in link))
    assert form.fields["kind"] == "rotor_arm"
    removal = client.get(f"/v1/fitments/{parts['rotor_arm']}/removal").json()
    assert (removal["cured"], removal["reason"]) == (False, "on suspicion")


def test_a_complaint_that_forbids_driving_says_so_first_even_where_no_part_on_record_can_cause_it(
    keeper, client
):
    vehicle, _ = car_with(client, HOT, system="injection")
    complaints = client.get("/v1/complaints").json()["items"]
    for one in (one for one in complaints if one["stop_driving"]):
        page = keeper.send(f"/pages/cars/{vehicle}/fault", complaint=one["id"], last_ran_well=WELL)
        body = page.answer.text
        assert page.status == 200, body
        assert body.index("Do not drive") < body.index("Next") < body.index("Which part is it?")
        assert one["warning"][:1].upper() + one["warning"][1:] in page.text
        case = client.get(f"/v1/fault-findings/{case_of(page)}").json()
        assert case["record"] in page.text
        if not case["ranking"]["suspects"]:
            assert "Nothing on record of this car can cause it" in page.text
            assert (
                one["warning"][:1].upper() + one["warning"][1:] in keeper.get(f"/pages/cars/{vehicle}").text
            )
        assert f"/pages/cars/{vehicle}/fitment" in [
            found["href"] for tag, found in page.elements if tag == "a"
        ]


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"complaint": ""}, "complaint"),
        ({"last_ran_well": "yesterday"}, "last_ran_well"),
        ({"last_ran_well": "2999-01-01"}, "last_ran_well"),
        ({"fault_present": "7"}, "fault_present"),
        ({"conditions__underwater": "yes"}, "conditions"),
    ],
)
def test_wrong_values_come_back_beside_their_field_with_the_rest_kept(keeper, damp, fields, named):
    page = open_by_form(keeper, damp[0], note="came up at Whitsun", **fields)
    assert page.status in {409, 422}
    assert named in page.wrong
    assert page.fields["note"] == "came up at Whitsun"
    ticked = [
        found["name"]
        for tag, found in page.elements
        if found.get("type") == "checkbox" and "checked" in found
    ]
    assert "conditions.damp" in ticked


def test_a_renewal_without_a_part_or_an_answer_is_refused_and_kept(keeper, client, damp):
    vehicle, parts = damp
    case = case_of(open_by_form(keeper, vehicle))
    for fields in ({}, {"cured": "yes"}, {f"renewed.{parts['rotor_arm']}": "yes"}):
        page = keeper.send(f"/pages/faults/{case}/renewal", note="at the fair", **fields)
        assert page.status == 422, fields
        assert page.fields["note"] == "at the fair"
    assert client.get(f"/v1/fault-findings/{case}").json()["steps"] == []


def test_what_was_ticked_and_written_outlives_the_session(stranger_at_the_door, fleet, client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)["id"]
    sent = {
        f"renewed.{parts['ht_leads']}": "yes",
        "cured": "no",
        "note": "at the fair",
        "done_on": "2026-01-02",
    }
    page = stranger_at_the_door.post(f"/pages/faults/{case}/renewal", sent)
    assert (page.status, "Your session is over" in page.text) == (401, True)
    page = stranger_at_the_door.post("/pages/sign-in", {**page.fields, "key": fleet.keys["write"]})
    assert page.path.startswith(f"/pages/faults/{case}/renewal")
    assert (page.fields["note"], page.fields["cured"], page.fields["done_on"]) == (
        "at the fair",
        "no",
        "2026-01-02",
    )
    ticked = [
        found["name"] for _, found in page.elements if found.get("type") == "checkbox" and "checked" in found
    ]
    assert ticked == [f"renewed.{parts['ht_leads']}"]
    assert client.get(f"/v1/fault-findings/{case}").json()["steps"] == []


def test_a_contradicting_result_is_explained_and_nothing_is_lost(keeper, client, damp):
    vehicle, _ = damp
    case = opened(client, vehicle)
    step(client, case, check="lead_ohms", outcome="good")
    page = keeper.send(f"/pages/faults/{case['id']}/check?check=lead_ohms", outcome="bad", note="cracked")
    assert page.status == 409
    assert "an earlier step of this check" in page.text
    assert page.fields["note"] == "cracked"


def test_what_is_due_anyway_is_said_beside_the_next_step(keeper, client):
    vehicle, _ = car_with(client, {"brake_fluid": 9, "brake_seals": 30})
    page = keeper.get(f"/pages/faults/{opened(client, vehicle, 'sinking_pedal')['id']}")
    _, listed = page.text.split("Due or near, whatever the fault is")
    told = "due anyway by its limit, whatever the fault is; renewing it now costs about"
    assert told in listed[listed.index("Brake fluid (glycol)") :][:150]
    assert "until the cure; due anyway by its limit" in page.text
    assert "spent anyway" in page.text


def test_a_wrong_step_is_taken_back_by_a_form_that_shows_it(keeper, onlooker, client, damp):
    case = opened(client, damp[0])
    path = f"/pages/faults/{case['id']}/take-back"
    assert keeper.get(path).status == 404
    step(client, case, check="lead_ohms", outcome="bad", note="read the wrong scale")
    assert path in [
        found["href"] for tag, found in keeper.get(f"/pages/faults/{case['id']}").elements if tag == "a"
    ]
    form = keeper.get(path)
    assert "shows bad" in form.text
    assert "read the wrong scale" in form.text
    assert onlooker.get(path).status == 403
    later = step(client, case, check="cap_look", outcome="good")
    moved_on = keeper.post(path, form.fields)
    assert (moved_on.status, "moved on" in moved_on.text) == (409, True)
    assert client.get(f"/v1/fault-findings/{case['id']}").json() == later
    page = keeper.post(path, moved_on.fields)
    assert page.path.endswith("?noted=back"), page.text
    assert keeper.post(path, moved_on.fields).path == page.path  # a second press of the button
    left = client.get(f"/v1/fault-findings/{case['id']}").json()["steps"]
    assert [one["check"] for one in left] == ["lead_ohms"]


def test_sent_twice_it_is_one_case(keeper, client, damp):
    vehicle, _ = damp
    page = keeper.get(f"/pages/cars/{vehicle}/fault")
    fields = {**page.fields, "complaint": "misfire_in_damp", "last_ran_well": WELL}
    first, second = (keeper.post(f"/pages/cars/{vehicle}/fault", fields) for _ in range(2))
    assert first.path == second.path
    assert len(client.get(f"/v1/vehicles/{vehicle}/fault-findings").json()["items"]) == 1


def test_the_car_its_parts_and_its_list_lead_to_the_case(keeper, client, damp):
    vehicle, parts = damp
    case = opened(client, vehicle)["id"]
    for path in (
        f"/pages/cars/{vehicle}",
        f"/pages/parts/{parts['ht_leads']}",
        f"/pages/cars/{vehicle}/faults",
    ):
        page = keeper.get(path)
        assert f"/pages/faults/{case}" in [found["href"] for tag, found in page.elements if tag == "a"], path


def test_who_may_only_read_sees_the_case_and_no_forms(onlooker, client, damp):
    case = opened(client, damp[0])["id"]
    page = onlooker.get(f"/pages/faults/{case}")
    assert page.status == 200
    links = [found["href"] for tag, found in page.elements if tag == "a"]
    assert not [one for one in links if one.endswith(("/closing", "/renewal")) or "/check" in one]
    assert onlooker.get(f"/pages/faults/{case}/closing").status == 403


def test_another_fleets_case_is_not_there(service, client, damp):
    from tests.api.pages.visiting import Visitor

    case = opened(client, damp[0])["id"]
    other = Visitor(service.base_url)
    other.sign_in(service.fleet().keys["admin"])
    for path in (f"faults/{case}", f"faults/{case}/check?check=lead_ohms", f"faults/{case}/renewal", f"faults/{case}/closing", f"cars/{damp[0]}/fault", f"cars/{damp[0]}/faults"):  # fmt: skip
        assert other.get(f"/pages/{path}").status == 404, path
