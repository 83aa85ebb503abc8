"""Keyset paging: the Link header (RFC 8288) leads through a list once, also while it grows."""

import pytest


def add(client, names):
    for name in names:
        client.post("/v1/vehicles", json={"name": name, "distance_unit": "km"}).raise_for_status()


def names(response):
    return [item["name"] for item in response.json()["items"]]


def walk(client, response, relation="next"):
    pages = [names(response)]
    while relation in response.links:
        response = client.get(response.links[relation]["url"])
        pages.append(names(response))
    return pages, response


def test_following_next_gives_every_item_once_in_order(client):
    add(client, "abcdefg")
    pages, _ = walk(client, client.get("/v1/vehicles?limit=3"))
    assert pages == [["a", "b", "c"], ["d", "e", "f"], ["g"]]


def test_following_prev_leads_back(client):
    add(client, "abcdefg")
    _, last = walk(client, client.get("/v1/vehicles?limit=3"))
    pages, _ = walk(client, last, "prev")
    assert pages == [["g"], ["d", "e", "f"], ["a", "b", "c"]]


def test_items_added_meanwhile_neither_repeat_nor_hide_others(client):
    add(client, "abcd")
    first = client.get("/v1/vehicles?limit=2")
    add(client, "e")
    pages, _ = walk(client, client.get(first.links["next"]["url"]))
    assert "".join(names(first) + [name for page in pages for name in page]) == "abcde"


def test_a_list_on_one_page_has_no_links(client):
    add(client, "ab")
    assert client.get("/v1/vehicles").links == {}


def test_the_links_keep_the_other_parameters(client):
    add(client, "abc")
    assert "limit=2" in client.get("/v1/vehicles?limit=2").links["next"]["url"]


@pytest.mark.parametrize(
    "cursor",
    [
        "",
        "x",
        ">",
        ">s:a",
        "<i:x~s:y",
        ">dt:2020-99-99~s:a",
        ">dt:2020-01-01~s:a~s:b",
        "~",
        ">zz:1~s:a",
        ">b:YQ==~s:a",
    ],
)
def test_a_cursor_that_no_link_gave(client, cursor):
    response = client.get("/v1/vehicles", params={"cursor": cursor})
    assert response.status_code in {200, 404}, response.text


@pytest.mark.parametrize("limit", ["0", "-1", "201", "x", ""])
def test_a_limit_out_of_range(client, limit):
    assert client.get(f"/v1/vehicles?limit={limit}").status_code == 422


def test_a_cursor_of_another_fleet_shows_nothing_of_it(client, stranger):
    add(client, "abc")
    link = client.get("/v1/vehicles?limit=1").links["next"]["url"]
    assert names(stranger.get(link)) == []
