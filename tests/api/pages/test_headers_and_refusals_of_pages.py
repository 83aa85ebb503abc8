"""Every page: a strict policy and its fellow headers; refusals are pages, and say nothing of what is inside."""

import pytest

from api.pages import car_page
from tests.api.pages.visiting import Page

WANTED = {
    "content-security-policy": "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
}


@pytest.fixture
def paths(car, part):
    return [
        "/pages", "/pages?within_days=91", "/pages/weeks.svg", "/pages/cars", f"/pages/cars/{car}", f"/pages/cars/{car}/timeline.svg",
        f"/pages/cars/{car}/reading", f"/pages/cars/{car}/fitment", f"/pages/parts/{part}", f"/pages/parts/{part}/life.svg",
        f"/pages/parts/{part}/inspection", f"/pages/parts/{part}/repair", f"/pages/parts/{part}/removal", "/pages/new-car", "/pages/kinds",
        "/pages/kinds/rotor_arm", "/pages/kinds/rotor_arm/life.svg?narrow=true", "/pages/kinds/rotor_arm/cost.svg", "/pages/sign-in",
        "/pages/static/pages.css", "/pages/nowhere", "/pages/kinds/nothing", "/pages/cars/nothing",
    ]  # fmt: skip


def test_every_answer_carries_the_headers_and_no_inline_code(keeper, paths):
    for path in paths:
        answer = keeper.http.get(path)
        assert {name: answer.headers[name] for name in WANTED} == WANTED, path
        assert answer.status_code == (404 if "nothing" in path or "nowhere" in path else 200), path
        if answer.headers["content-type"].startswith("text/html"):
            for tag, attributes in Page(answer).elements:
                assert tag not in {"script", "style", "iframe", "object", "base"}, path
                assert "style" not in attributes, path
                assert not [name for name in attributes if name.startswith("on")], path


def test_every_form_carries_a_token(keeper, paths):
    for path in paths:
        page = keeper.get(path)
        if any(tag == "form" and found.get("method") == "post" for tag, found in page.elements):
            assert len(page.fields["form_token"]) == 64, path


def test_private_pages_are_not_kept_by_browsers_and_files_are(keeper, car):
    assert keeper.get(f"/pages/cars/{car}").answer.headers["cache-control"] == "no-store"
    style = next(
        found["href"]
        for tag, found in keeper.get("/pages").elements
        if tag == "link" and found["rel"] == "stylesheet"
    )
    assert "immutable" in keeper.http.get(style).headers["cache-control"]


def test_no_other_file_is_served(keeper):
    for name in ("../routes.py", "..%2Froutes.py", "base.html", "pages.css.map", ""):
        assert keeper.http.get(f"/pages/static/{name}").status_code == 404, name


def test_who_comes_without_an_address_gets_to_the_pages(stranger_at_the_door):
    assert stranger_at_the_door.get("/").path.startswith("/pages/sign-in")


def test_a_wrong_figure_in_the_address_is_refused_as_a_page(keeper):
    for query in ("per_year=fast", "per_year=0", "per_year=nan", "unit=furlong"):
        page = keeper.get(f"/pages/kinds/rotor_arm?{query}")
        assert page.status == 422
        assert page.answer.headers["content-type"].startswith("text/html")
        assert query.partition("=")[0] in page.text


def test_an_unforeseen_error_is_a_page_that_tells_nothing(keeper, car, monkeypatch):
    def broken(*_args):
        raise RuntimeError("the secret is 4711")

    monkeypatch.setattr(car_page, "content", broken)
    page = keeper.get(f"/pages/cars/{car}")
    assert page.status == 500
    assert "4711" not in page.answer.text
    assert "Something went wrong here" in page.text
    assert page.answer.headers["content-security-policy"] == WANTED["content-security-policy"]


def test_pages_stand_in_no_document_of_the_json_service(nobody):
    assert not [path for path in nobody.get("/openapi.json").json()["paths"] if path.startswith("/pages")]


def test_json_bodies_are_not_taken_by_pages_nor_forms_by_the_json(keeper, client):
    assert keeper.http.post("/pages/new-car", json={"name": "x"}).status_code == 415
    assert client.post("/v1/vehicles", data={"name": "x"}).status_code == 415
