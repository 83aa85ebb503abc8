"""Scripts, formulas, right-to-left marks and very long names in every field that is shown: text, and nothing else."""

from xml.etree import ElementTree as ET

import pytest

from tests.api.pages.visiting import Visitor
from tests.browser.records import faults_of

SCRIPT = "</title></textarea></text>\"'><script>alert(1)</script><img src=x onerror=alert(2)>{{7*7}}"
FORMULA = '=HYPERLINK("https://example.org","x")'
BACKWARDS = "\u202egnp.exe\u202c \u2067abc"
LONG = "Wm" * 100


@pytest.fixture(params=[SCRIPT, FORMULA, BACKWARDS, LONG], ids=["script", "formula", "right to left", "long"])
def name(request):
    return request.param


@pytest.fixture
def hostile(client, name):
    """A car and a part with the name in every field that takes text."""
    short = name[:40]
    car = client.post(
        "/v1/vehicles",
        json={
            "name": name, "make": name, "model": name, "chassis_number": short, "storage": name[:80], "notes": name,
            "distance_unit": "km", "external_ref": name,
        },
    ).json()["id"]  # fmt: skip
    reading = {"read_on": "2024-05-12", "reading": {"value": 52_000, "unit": "km"}, "source": name}
    assert client.post(f"/v1/vehicles/{car}/odometer-readings", json=reading).status_code == 201
    fitment = {
        "kind": "rotor_arm",
        "position": name[:80],
        "grade": name[:80],
        "note": name,
        "fitted_on": "2021",
    }
    part = client.post(f"/v1/vehicles/{car}/fitments", json=fitment).json()["id"]
    look = {
        "inspected_on": "2024-05-13", "finding": "near limit", "note": name,
        "measurement": {"value": 1, "unit": name[:20], "limit": 2},
    }  # fmt: skip
    assert client.post(f"/v1/fitments/{part}/inspections", json=look).status_code == 201
    repair = {"repaired_on": "2024-05-14", "action": "cleaned", "note": name}
    assert client.post(f"/v1/fitments/{part}/repairs", json=repair).status_code == 201
    return car, part, faults_of(client, car, name)


def pages_of(car, part, case):
    yield from (
        "/pages?within_days=728&as_of=2060-01-01",
        "/pages/cars",
        f"/pages/cars/{car}",
        f"/pages/parts/{part}",
    )
    yield from (f"/pages/cars/{car}/{form}" for form in ("reading", "fitment"))
    yield from (f"/pages/parts/{part}/{form}" for form in ("inspection", "repair", "removal"))
    yield from (f"/pages/cars/{car}/fault", f"/pages/cars/{car}/faults", f"/pages/faults/{case}")
    yield from (f"/pages/faults/{case}/{form}" for form in ("check?check=look_hard", "renewal", "closing"))


def test_pages_show_the_name_as_text_and_hold_no_script(keeper, hostile, name):
    for path in pages_of(*hostile):
        page = keeper.get(path)
        assert page.status == 200, path
        assert not [tag for tag, _ in page.elements if tag == "script"], path
        assert not [found for _, found in page.elements if any(n.startswith("on") for n in found)], path
        assert not [found for tag, found in page.elements if tag == "img" and found["src"] == "x"], path
        assert " ".join(name.split())[:40] in page.text, path
        assert "{{7*7}}" in page.text or "{{7*7}}" not in name, path


def test_names_keep_their_direction_to_themselves(keeper, hostile, name):
    for path in pages_of(*hostile):
        page = keeper.get(path)
        body = page.answer.text.partition("<main")[2].partition("</main>")[0]
        for start in [i for i in range(len(body)) if body.startswith("\u202e", i)]:
            before = body[:start]
            inside = before.rfind("<bdi>") > before.rfind("</bdi>") or before.rfind("<") > before.rfind(">")
            inside = inside or 'dir="auto"' in before[before.rfind("<option") :].partition(">")[0]
            assert inside or before.rfind("<textarea") > before.rfind("</textarea>"), path


def test_pictures_carry_the_name_as_text_without_marks(keeper, hostile):
    car, part, _ = hostile
    for path in (
        f"/pages/cars/{car}/timeline.svg",
        f"/pages/cars/{car}/timeline.svg?narrow=true",
        f"/pages/parts/{part}/life.svg",
    ):
        answer = keeper.http.get(path)
        root = ET.fromstring(answer.text)  # noqa: S314 - our own drawing
        assert not [e for e in root.iter() if e.tag.rpartition("}")[2] in {"script", "img", "foreignObject"}]
        assert "\u202e" not in answer.text


def test_a_hostile_form_comes_back_as_it_was_written(keeper, car, name):
    page = keeper.send(
        f"/pages/cars/{car}/fitment", kind="rotor_arm", fitted_on="never", note=name, position=name[:80]
    )
    assert page.status == 422
    assert page.fields["note"].strip() == name.strip()
    assert page.fields["position"] == name[:80]
    assert not [tag for tag, _ in page.elements if tag == "script"]


def test_a_hostile_address_is_inert(service, keeper, name):
    for path in (
        "/pages/cars/{}",
        "/pages/kinds/{}",
        "/pages/{}",
        "/pages/sign-in?back={}",
        "/pages/new-car?name={}",
    ):
        page = Visitor.get(keeper, path.format(name.replace("/", "").replace("#", "").replace("?", "")))
        assert not [tag for tag, _ in page.elements if tag == "script"], path
