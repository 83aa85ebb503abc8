"""Every page in Chromium: no violation of the policy, no complaint, nothing asked of strangers, no pushing sideways,
no serious finding of axe-core, nothing hostile alive; and on paper what paper needs."""

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.records import HOSTILE, car_with_parts, digest_of, faults_of


@pytest.fixture(params=["Hector", HOSTILE], ids=["plain", "hostile"])
def stocked(fleet, request):
    """A fleet with a car, its name plain or hostile; gives the pages to look at."""
    with fleet.client() as client:
        car, part = car_with_parts(client, request.param)
        case = faults_of(client, car, request.param)
        week = digest_of(fleet, client, part, request.param)
    return fleet, [
        "/pages?within_days=364", "/pages/cars", f"/pages/cars/{car}", f"/pages/parts/{part}", "/pages/kinds",
        "/pages/kinds/rotor_arm", "/pages/kinds/timing_belt?per_year=5000&unit=mi", "/pages/new-car",
        f"/pages/cars/{car}/reading", f"/pages/cars/{car}/fitment", f"/pages/parts/{part}/inspection",
        f"/pages/parts/{part}/repair", f"/pages/parts/{part}/removal", "/pages/digests", f"/pages/digests/{week}",
        f"/pages/cars/{car}/fault", f"/pages/cars/{car}/faults", f"/pages/faults/{case}",
        f"/pages/faults/{case}/check?check=look_hard", f"/pages/faults/{case}/renewal?renewed.{part}=yes", f"/pages/faults/{case}/closing",
    ]  # fmt: skip


def serious(results):
    found = [one for one in results.response["violations"] if one["impact"] in {"serious", "critical"}]
    return [(one["id"], [node["target"] for node in one["nodes"]][:3]) for one in found]


def test_pages_are_quiet_fit_the_screen_and_pass_axe(seat, stocked, request):
    fleet, paths = stocked
    checked = request.node.callspec.id in {
        "desk-plain",
        "telephone-hostile",
    }  # once per size is enough, and takes half as long
    seat.page.on("dialog", lambda dialog: seat.complaints.append(f"a script ran: {dialog.message}"))
    seat.page.goto("/pages/sign-in")
    assert serious(_axe(seat)) == []
    seat.sign_in(fleet.keys["write"])
    for path in paths:
        seat.visit(path)
        assert seat.overflow() <= 0, path
        for picture in seat.page.locator("img").all():
            assert picture.evaluate("image => image.complete && image.naturalWidth > 100"), path
            assert len(picture.get_attribute("alt")) > 20, path
        assert seat.complaints == [], path
        assert not checked or serious(_axe(seat)) == [], path
        seat.complaints.clear()
    assert seat.strangers == []


def test_a_picture_opened_by_itself_keeps_to_the_policy(seat, stocked):
    fleet, paths = stocked
    seat.sign_in(fleet.keys["read"])
    car, part = paths[2], paths[3]
    for path in (
        f"{car}/timeline.svg",
        f"{part}/life.svg",
        "/pages/weeks.svg",
        "/pages/kinds/rotor_arm/cost.svg",
    ):
        seat.visit(path)
        assert seat.complaints == [], path


def test_refused_forms_pass_axe_too(seat, fleet):
    with fleet.client() as client:
        car, part = car_with_parts(client)
    seat.sign_in(fleet.keys["write"])
    for path in (
        "/pages/new-car",
        f"/pages/cars/{car}/reading",
        f"/pages/cars/{car}/fitment",
        f"/pages/parts/{part}/removal",
        f"/pages/cars/{car}/fault",
    ):
        seat.visit(path)
        seat.page.locator("main form").evaluate("form => { form.noValidate = true }")
        seat.page.locator("main form button[type=submit]").click()
        seat.page.get_by_role("alert").wait_for()
        assert serious(_axe(seat)) == [], path
        assert seat.overflow() <= 0, path
        assert seat.page.evaluate("document.activeElement.className") == "summary", (
            "the summary is read first"
        )


def test_on_paper_there_is_the_plan_and_no_furniture(seat, stocked):
    fleet, paths = stocked
    seat.sign_in(fleet.keys["write"])
    seat.visit(paths[2])
    seat.page.emulate_media(media="print")
    assert seat.page.get_by_role("heading", name="Schedule").is_visible()
    assert seat.page.locator(".cautions").first.is_visible(), (
        "cautions are printed even where they were folded away"
    )
    for furniture in (".top nav", ".out", ".actions"):
        assert not seat.page.locator(furniture).first.is_visible(), furniture
    sheet = seat.page.pdf(format="A4")
    assert sheet.startswith(b"%PDF")


def _axe(seat):
    """axe-core as the package carries it, run outside the page's policy."""
    return Axe().run(seat.page)
