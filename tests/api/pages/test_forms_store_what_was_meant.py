"""Each form stores what the JSON would; what is wrong stands beside its field with everything written kept."""

import datetime as dt

import pytest
import time_machine

from tests.api.pages.visiting import Visitor


def test_a_car_registered_on_the_page_is_the_car_of_the_json(keeper, client):
    page = keeper.send(
        "/pages/new-car",
        name="  Dolly  ",
        distance_unit="mi",
        built="1967~",
        system="points",
        notes="first line\nsecond",
        circumstances__short_trips="yes",
        circumstances__dry_garage="yes",
    )
    assert page.status == 200
    assert "The car is registered" in page.text
    stored = client.get(f"/v1/vehicles/{page.path.split('/')[3].partition('?')[0]}").json()
    wanted = {
        "name": "Dolly",
        "distance_unit": "mi",
        "built": "1967~",
        "system": "points",
        "make": None,
        "storage": None,
    }
    assert {name: stored[name] for name in wanted} == wanted
    assert stored["circumstances"] == ["dry_garage", "short_trips"]
    assert "mostly trips under 10 km" in page.text
    assert stored["notes"].splitlines() == ["first line", "second"]
    assert stored["joined_on"] is not None, "today, unless somebody writes another day"


def test_a_reading_with_thousands_separated_is_stored_as_meant(keeper, client, car):
    page = keeper.send(
        f"/pages/cars/{car}/reading",
        reading__value="53,210",
        read_on="2025-05-12",
        dial_digits="5",
        source="photograph",
    )
    assert "The odometer reading is stored" in page.text
    assert "53,210 mi on 12 May 2025" in page.text
    stored = client.get(f"/v1/vehicles/{car}/odometer-readings").json()["items"][-1]
    assert stored["reading"] == {"value": 53_210, "unit": "mi"}
    assert (stored["dial_digits"], stored["new_instrument"], stored["source"]) == (5, False, "photograph")


def test_a_fitment_shows_up_in_the_schedule(keeper, client, car):
    page = keeper.send(
        f"/pages/cars/{car}/fitment", kind="brake_hose", position="front left", fitted_on="2019-06", condition="second-hand",
        donor__distance__value="12 000", donor__years="3", cap__years="6", note="from the green one",
    )  # fmt: skip
    assert "Flexible brake hose, front left" in page.text
    (stored,) = client.get(f"/v1/vehicles/{car}/fitments").json()["items"]
    assert stored["donor"] == {"distance": {"value": 12_000, "unit": "mi"}, "years": 3}
    assert stored["cap"] == {"distance": None, "years": 6}
    assert (stored["fitted_on"], stored["odometer"], stored["note"]) == (
        "2019-06",
        None,
        "from the green one",
    )


def test_a_removal_without_cure_is_no_failure_and_the_part_leaves_the_schedule(keeper, client, car, part):
    assert "Rotor arm" in keeper.get(f"/pages/cars/{car}").text
    page = keeper.send(
        f"/pages/parts/{part}/removal", reason="on suspicion", cured="no", removed_on="2024-06-01"
    )
    assert "the complaint stayed, so the part was good" in page.text
    assert client.get(f"/v1/fitments/{part}/removal").json()["cured"] is False
    assert "No part in service is on record" in keeper.get(f"/pages/cars/{car}").text
    successor = next(
        found["href"] for tag, found in page.elements if tag == "a" and "/fitment?" in found["href"]
    )
    form = keeper.get(successor)
    assert (form.fields["kind"], form.fields["fitted_on"]) == ("rotor_arm", "2024-06-01")


@pytest.mark.parametrize(("answer", "stored"), [("yes", True), ("no", False), ("", None)])
def test_cured_has_three_answers(keeper, client, part, answer, stored):
    keeper.send(
        f"/pages/parts/{part}/removal", reason="failed, as reported", cured=answer, removed_on="2024-06-01"
    )
    assert client.get(f"/v1/fitments/{part}/removal").json()["cured"] is stored


def test_an_inspection_that_finds_it_worn_makes_it_due(keeper, client, part):
    page = keeper.send(
        f"/pages/parts/{part}/inspection", finding="worn to limit", inspected_on="2024-06-01",
        measurement__value="9.5", measurement__unit="kohm", measurement__limit="6",
    )  # fmt: skip
    assert "what was found decides" in page.text
    assert "9.5 kohm" in page.text
    assert "limit 6" in page.text
    (stored,) = client.get(f"/v1/fitments/{part}/inspections").json()["items"]
    assert stored["measurement"] == {"value": 9.5, "unit": "kohm", "limit": 6}


def test_a_repair_leaves_the_part_in_place(keeper, client, part):
    page = keeper.send(
        f"/pages/parts/{part}/repair", action="cleaned", repaired_on="2024-06-01", odometer__value="52100"
    )
    assert "cleaned at 52,100 mi" in page.text
    assert client.get(f"/v1/fitments/{part}/repairs").json()["items"][0]["action"] == "cleaned"
    assert client.get(f"/v1/fitments/{part}").json()["in_service"] is True


WRONG = [
    ("reading", {"reading__value": "many"}, "reading.value"),
    ("reading", {"reading__value": ""}, "reading.value"),
    ("reading", {"reading__value": "-5"}, "reading.value"),
    ("reading", {"reading__value": "nan"}, "reading.value"),
    ("reading", {"reading__value": "53000", "reading__unit": "furlong"}, "reading.unit"),
    ("reading", {"reading__value": "53000", "read_on": "yesterday"}, "read_on"),
    ("reading", {"reading__value": "53000", "read_on": "2999-01-01"}, "read_on"),
    ("reading", {"reading__value": "53000", "read_on": ""}, "read_on"),
    ("reading", {"reading__value": "53000", "dial_digits": "99"}, "dial_digits"),
    ("reading", {"reading__value": "53000", "new_instrument": "perhaps"}, "new_instrument"),
    ("fitment", {"kind": ""}, "kind"),
    ("fitment", {"kind": "flux_capacitor"}, "kind"),
    ("fitment", {"kind": "rotor_arm", "fitted_on": "last summer"}, "fitted_on"),
    ("fitment", {"kind": "rotor_arm", "fitted_on": "2999"}, "fitted_on"),
    ("fitment", {"kind": "rotor_arm", "condition": "shiny"}, "condition"),
    ("fitment", {"kind": "rotor_arm", "donor__years": "3"}, "donor.distance.value"),
    ("fitment", {"kind": "rotor_arm", "cap__years": "0"}, "cap.years"),
    ("fitment", {"kind": "rotor_arm", "position": "x" * 100}, "position"),
]


@pytest.mark.parametrize(("form", "written", "beside"), WRONG)
def test_what_is_wrong_stands_beside_its_field_and_nothing_written_is_lost(
    keeper, client, car, form, written, beside
):
    before = client.get(
        f"/v1/vehicles/{car}/{'odometer-readings' if form == 'reading' else 'fitments'}"
    ).json()
    note = {"source": "an <old> bill"} if form == "reading" else {"note": "an <old> bill"}
    page = keeper.send(f"/pages/cars/{car}/{form}", **{**written, **note})
    assert page.status == 422
    assert set(page.wrong) == {beside}
    assert (
        next(found for tag, found in page.elements if found.get("id") == beside).get("aria-invalid") == "true"
        or beside == "new_instrument"
    )
    for name, value in {**written, **note}.items():
        if name not in {"kind", "condition", "reading__unit", "new_instrument"}:
            assert page.fields[name.replace("__", ".")] == value
    assert [found["href"] for tag, found in page.elements if tag == "a" and found["href"] == f"#{beside}"]
    assert (
        client.get(f"/v1/vehicles/{car}/{'odometer-readings' if form == 'reading' else 'fitments'}").json()
        == before
    )


def test_a_reading_at_odds_with_the_records_says_so_beside_the_figure(keeper, client, car):
    page = keeper.send(f"/pages/cars/{car}/reading", reading__value="51000", read_on="2025-05-12")
    assert page.status == 409
    assert set(page.wrong) == {"reading.value"}
    body = {"read_on": "2025-05-12", "reading": {"value": 51_000, "unit": "mi"}}
    said = client.post(f"/v1/vehicles/{car}/odometer-readings", json=body).json()["detail"]
    assert said.removeprefix("reading: w") in page.text, "the same words"
    assert "Figure on the dial: wanted a reading" in page.text, "the summary names the field"


def test_a_figure_further_on_than_a_car_is_driven_is_stored_and_doubted(keeper, client, car):
    form = keeper.get(f"/pages/cars/{car}/reading")
    fine = {**form.fields, "reading.value": "52,900", "read_on": "2024-09-01"}
    assert "was a tenth read" not in keeper.post(f"/pages/cars/{car}/reading", fine).answer.text
    form = keeper.get(f"/pages/cars/{car}/reading")
    tenths = {**form.fields, "reading.value": "59,001", "read_on": "2024-09-20"}
    text = keeper.post(f"/pages/cars/{car}/reading", tenths).answer.text
    assert "6,101 mi since 1 Sep 2024 is more than a car is driven: was a tenth read as a whole" in text
    (last,) = client.get(f"/v1/vehicles/{car}/odometer-readings").json()["items"][-1:]
    assert f"DELETE /v1/vehicles/{car}/odometer-readings/{last['id']}" in text


def test_a_second_removal_is_refused_in_words(keeper, part):
    form = keeper.get(f"/pages/parts/{part}/removal")
    wanted = {**form.fields, "reason": "preventive", "removed_on": "2024-06-01"}
    assert keeper.post(f"/pages/parts/{part}/removal", wanted).status == 200
    page = keeper.post(f"/pages/parts/{part}/removal", {**wanted, "once": "another"})
    assert page.status == 409
    assert "has a removal already" in page.text


def test_pressing_twice_stores_once(keeper, client, car):
    form = keeper.get(f"/pages/cars/{car}/fitment")
    sent = {**form.fields, "kind": "rotor_arm", "fitted_on": "2024-06-01"}
    first, second = (keeper.post(f"/pages/cars/{car}/fitment", sent) for _ in range(2))
    assert first.path == second.path
    assert len(client.get(f"/v1/vehicles/{car}/fitments").json()["items"]) == 1
    assert keeper.send(f"/pages/cars/{car}/fitment", kind="rotor_arm", fitted_on="2024-06-01").status == 200
    assert len(client.get(f"/v1/vehicles/{car}/fitments").json()["items"]) == 2, (
        "another filling-in is another part"
    )


@pytest.mark.parametrize("token", ["", "0" * 64, "ключ"])
def test_a_form_from_elsewhere_stores_nothing_and_comes_back_to_be_looked_over(keeper, client, car, token):
    form = keeper.get(f"/pages/cars/{car}/reading")
    page = keeper.post(
        f"/pages/cars/{car}/reading", {**form.fields, "form_token": token, "reading.value": "60000"}
    )
    assert "Nothing has been stored yet" in page.text
    assert page.fields["reading.value"] == "60000"
    assert len(client.get(f"/v1/vehicles/{car}/odometer-readings").json()["items"]) == 1
    sent = keeper.post(f"/pages/cars/{car}/reading", page.fields)
    assert "The odometer reading is stored" in sent.text


def test_what_was_written_survives_the_end_of_the_session(service, fleet, client, car):
    visitor = Visitor(service.base_url)
    visitor.sign_in(fleet.keys["write"])
    form = visitor.get(f"/pages/cars/{car}/reading")
    sent = {**form.fields, "reading.value": "60000", "source": 'a "bill" & <more>'}
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=15), tick=True):
        page = visitor.post(f"/pages/cars/{car}/reading", sent)
        assert page.status == 401
        assert "Your session is over" in page.text
        back = visitor.post("/pages/sign-in", {**page.fields, "key": fleet.keys["write"]})
        assert back.path.startswith(f"/pages/cars/{car}/reading")
        assert (back.fields["reading.value"], back.fields["source"]) == ("60000", 'a "bill" & <more>')
        assert len(client.get(f"/v1/vehicles/{car}/odometer-readings").json()["items"]) == 1
        assert "is stored" in visitor.post(f"/pages/cars/{car}/reading", back.fields).text


def test_more_fields_than_any_form_has_are_refused(keeper):
    page = keeper.post("/pages/new-car", {f"field{n}": "x" for n in range(300)})
    assert page.status in {413, 422}
