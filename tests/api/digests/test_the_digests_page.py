"""The digest as a page: made from the page, linked to cars and parts, hostile names inert, its picture drawn."""

import pytest

from tests.api.history.making import car, fitment, made, odometer
from tests.api.pages.visiting import Visitor

HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(1)>\"'{{7*7}}\u202e"


@pytest.fixture
def keeper(service, fleet):
    found = Visitor(service.base_url)
    assert found.sign_in(fleet.keys["write"]).status == 200
    return found


@pytest.fixture
def week(fleet, client):
    vehicle = car(client, name=HOSTILE)
    odometer(client, vehicle, "2024-09-01", 70_000)
    part = fitment(client, vehicle, "v_belt", "2012-09-01", position=HOSTILE[:60])
    made(client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": HOSTILE}))
    job = fleet.wait_for_job(client.post("/v1/digests").headers["Location"])
    return job["result"]["week"]


def test_the_page_shows_it_and_hostile_names_are_inert(keeper, week):
    page = keeper.get(f"/pages/digests/{week}")
    assert page.status == 200
    assert "<script" not in page.answer.text
    assert not [found for tag, found in page.elements if "onerror" in found]
    assert "{{7*7}}" in page.words
    assert "Accepted risk" in page.words
    assert "Due for longer" in page.words
    links = {found.get("href", "") for tag, found in page.elements if tag == "a"}
    assert any(link.endswith("/reading") for link in links)
    for link in sorted(link for link in links if link.startswith("/pages")):
        assert keeper.get(link).status == 200, link
    (image,) = [found for tag, found in page.elements if tag == "img"]
    assert "due" in image["alt"]
    for address in (image["src"], image["src"] + "&narrow=true"):
        drawn = keeper.http.get(address)
        assert drawn.headers["content-type"] == "image/svg+xml"
        assert drawn.text == keeper.http.get(address).text


def test_it_stands_in_the_menu_and_the_list(keeper, week):
    page = keeper.get("/pages/digests")
    links = [found.get("href") for tag, found in page.elements if tag == "a"]
    assert f"/pages/digests/{week}" in links
    assert links.count("/pages/digests") == 1


def test_the_page_has_one_made(fleet, keeper, client):
    page = keeper.get("/pages/digests")
    assert "No digest was made yet" in page.words
    answer = keeper.http.post("/pages/digests", data={"form_token": page.fields["form_token"]})
    assert answer.status_code in {200, 303}
    (job,) = [one for one in client.get("/v1/jobs").json()["items"] if one["kind"] == "digest"]
    assert fleet.wait_for_job(f"/v1/jobs/{job['id']}")["state"] == "succeeded"


def test_a_form_without_its_token_makes_nothing(keeper, client):
    keeper.http.post("/pages/digests", data={})
    assert client.get("/v1/jobs").json()["items"] == []


def test_a_read_key_has_no_button_and_a_week_without_digest_is_a_page(service, fleet):
    onlooker = Visitor(service.base_url)
    onlooker.sign_in(fleet.keys["read"])
    page = onlooker.get("/pages/digests")
    assert "Make this week" not in page.words
    assert onlooker.http.post("/pages/digests", data={}).status_code == 403
    assert onlooker.get("/pages/digests/2020-W01").status == 404
