"""From the key to the changed schedule, as somebody clicks and types it: at a desk and with a telephone."""

import datetime as dt

from tests.browser.records import car_with_parts, digest_of


def test_from_signing_in_to_a_changed_schedule(seat, fleet):
    page = seat.page
    seat.sign_in(fleet.keys["write"])
    page.get_by_role("link", name="Register a car").click()
    page.get_by_label("What you call it").fill("Hector")
    page.get_by_label("Its odometer counts in").select_option("mi")
    page.get_by_label("Built").fill("1967~")
    page.get_by_label("Ignition and fuel").select_option("points")
    page.get_by_role("button", name="Register").click()
    page.get_by_role("heading", name="Hector").wait_for()

    page.get_by_role("link", name="Write down the odometer").click()
    page.get_by_label("Figure on the dial: figure").fill("52,000")
    page.get_by_label("Read on").fill("2024-05-12")
    page.get_by_role("button", name="Store").click()
    page.get_by_text("52,000 mi on 12 May 2024").wait_for()
    assert page.get_by_text("No part in service is on record").is_visible()

    page.get_by_role("link", name="Fit a part").click()
    page.get_by_label("Part", exact=True).select_option("rotor_arm")
    page.get_by_label("Fitted on").fill("2016-03")
    page.get_by_role("button", name="Store").click()
    page.get_by_role("heading", name="Rotor arm").first.wait_for()
    assert page.get_by_text("due now", exact=True).first.is_visible()

    page.get_by_role("link", name="Came off").click()
    page.get_by_label("Why", exact=True).select_option("on suspicion")
    page.get_by_label("no, it stayed").check()
    page.get_by_role("button", name="Store").click()
    page.get_by_text("the complaint stayed, so the part was good").wait_for()

    page.get_by_role("link", name="Fit its successor").click()
    assert page.get_by_label("Part", exact=True).input_value() == "rotor_arm"
    assert page.get_by_label("Fitted on").input_value() == dt.datetime.now(dt.UTC).date().isoformat()
    page.get_by_role("button", name="Store").click()
    page.get_by_role("heading", name="Rotor arm").first.wait_for()
    assert page.get_by_text("due now", exact=True).count() == 0, "the new one is not due"
    assert seat.complaints == []


def test_a_fault_is_found_with_the_keyboard_alone(seat, fleet):
    with fleet.client() as client:
        car, part = car_with_parts(client)
    seat.sign_in(fleet.keys["write"])
    seat.visit(f"/pages/cars/{car}")
    page = seat.page

    def go_to(there):
        for _ in range(60):
            if page.evaluate(there):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"the keyboard does not reach it: {there}")

    go_to("document.activeElement.textContent == 'Find a fault'")
    page.keyboard.press("Enter")
    page.wait_for_url("**/fault")
    go_to("document.activeElement.id == 'complaint'")
    page.keyboard.type("misfires in damp")
    go_to("document.activeElement.id == 'last_ran_well'")
    page.keyboard.type("05012024")
    go_to("document.activeElement.textContent == 'Open the case'")
    page.keyboard.press("Enter")
    page.wait_for_url("**/pages/faults/**")
    assert page.get_by_role("heading", name="Which part is it?").is_visible()
    assert page.get_by_role("heading", name="Next").is_visible()

    seat.visit(f"{page.url.partition('?')[0]}/renewal?renewed.{part}=yes")
    assert page.get_by_label("Rotor arm").is_checked()
    page.get_by_label("gone", exact=True).check()
    page.get_by_role("button", name="Store").click()
    page.get_by_text("The complaint was gone after the last step").wait_for()
    page.get_by_role("link", name="Close the case").click()
    page.get_by_role("button", name="Close the case").click()
    page.get_by_text("Cured by renewing rotor arm").wait_for()
    assert seat.complaints == []


def test_the_digest_is_opened_and_leads_to_the_odometers_form(seat, fleet):
    with fleet.client() as client:
        _, part = car_with_parts(client)
        digest_of(fleet, client, part, "sold in May")
    seat.sign_in(fleet.keys["write"])
    page = seat.page
    page.get_by_role("link", name="Digest", exact=True).click()
    page.get_by_role("link", name="Week").first.click()
    page.get_by_role("heading", name="Due for longer").wait_for()
    for heading in (
        "Chance that a part stops",
        "Odometers not read",
        "Parts to order",
        "Done",
        "Accepted risks",
    ):
        assert page.get_by_role("heading", name=heading).is_visible(), heading
    assert page.get_by_text("sold in May").first.is_visible()
    page.wait_for_load_state("load")
    assert page.locator("figure img").first.evaluate("image => image.complete && image.naturalWidth > 100")
    folded = page.locator("section", has=page.get_by_role("heading", name="Done")).locator("li")
    assert (folded.count(), folded.first.is_visible()) == (1, False)
    page.emulate_media(media="print")
    assert page.pdf(format="A4").startswith(b"%PDF")
    assert not page.locator(".top nav").is_visible()
    assert folded.first.is_visible(), "on paper nothing is folded away"
    page.emulate_media(media="screen")
    page.get_by_text("Show it: Done").click()
    assert folded.first.is_visible()
    page.get_by_role("link", name="Enter a reading for Hector").click()
    page.get_by_label("Figure on the dial: figure").wait_for()
    assert seat.complaints == []


def test_a_wrong_figure_comes_back_beside_its_field_with_the_rest_kept(seat, fleet):
    with fleet.client() as client:
        car, _ = car_with_parts(client)
    seat.sign_in(fleet.keys["write"])
    seat.visit(f"/pages/cars/{car}/reading")
    page = seat.page
    page.get_by_label("Figure on the dial: figure").fill("51,000")
    page.get_by_text("The dial went past its end").click()
    page.get_by_label("Where the figure comes from").fill("photograph")
    page.get_by_role("button", name="Store").click()
    page.get_by_role("alert").wait_for()
    assert page.get_by_label("Figure on the dial: figure").input_value() == "51,000"
    assert page.get_by_label("Figure on the dial: figure").get_attribute("aria-invalid") == "true"
    assert page.locator("[name=source]").input_value() == "photograph"
    page.get_by_role("alert").get_by_role("link").first.click()
    assert page.evaluate("document.activeElement.id") == "reading.value", "the summary leads to the field"


def test_everything_can_be_done_with_the_keyboard_alone(seat, fleet):
    with fleet.client() as client:
        car, _ = car_with_parts(client)
    page = seat.page
    page.goto(f"/pages/cars/{car}/reading")
    for _ in range(20):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.id") == "key":
            break
    page.keyboard.type(fleet.keys["write"])
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/pages/cars/{car}/reading")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    for _ in range(20):
        if page.evaluate("document.activeElement.id") == "reading.value":
            break
        page.keyboard.press("Tab")
    page.keyboard.type("60000")
    page.keyboard.press("Enter")
    page.wait_for_url("**?noted=reading")
    assert page.get_by_role("status").is_visible()
    assert seat.complaints == []
