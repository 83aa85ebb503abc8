"""RFC 9110: a change names the state that it changes (428, 412); a read says when nothing has changed (304)."""

from concurrent.futures import ThreadPoolExecutor

import pytest

CAR = {"name": "The green one", "distance_unit": "mi"}


@pytest.fixture
def car(client):
    response = client.post("/v1/vehicles", json=CAR)
    return response.headers["location"], response.headers["etag"]


def change(client, car, **headers):
    return client.patch(car[0], json={"name": "Another"}, headers=headers)


def test_a_change_without_the_tag(client, car):
    assert change(client, car).status_code == 428


def test_a_change_with_an_old_tag(client, car):
    assert change(client, car, **{"If-Match": car[1]}).status_code == 200
    response = change(client, car, **{"If-Match": car[1]})
    assert response.status_code == 412
    assert response.json()["type"] == "/problems/changed-meanwhile"


def test_the_answer_to_a_change_carries_the_new_tag(client, car):
    changed = change(client, car, **{"If-Match": car[1]})
    assert changed.headers["etag"] != car[1]
    assert client.get(car[0]).headers["etag"] == changed.headers["etag"]


@pytest.mark.parametrize("make", [lambda _: "*", lambda tag: f'"other", {tag}'])
def test_a_star_or_a_list_that_names_it(client, car, make):
    assert change(client, car, **{"If-Match": make(car[1])}).status_code == 200


def test_a_weak_tag_does_not_allow_a_change(client, car):
    assert change(client, car, **{"If-Match": f"W/{car[1]}"}).status_code == 412


@pytest.mark.parametrize(
    "make", [lambda tag: tag, lambda tag: f"W/{tag}", lambda tag: f'"other", {tag}', lambda _: "*"]
)
def test_a_read_of_what_is_held_already(client, car, make):
    response = client.get(car[0], headers={"If-None-Match": make(car[1])})
    assert response.status_code == 304
    assert response.content == b""
    assert response.headers["etag"] == car[1]


def test_a_read_of_what_has_changed(client, car):
    response = client.get(car[0], headers={"If-None-Match": '"other"'})
    assert response.status_code == 200


def test_of_many_changes_from_one_state_exactly_one_passes(fleet, car):
    def one(number):
        with fleet.client() as client:
            return client.patch(car[0], json={"name": str(number)}, headers={"If-Match": car[1]}).status_code

    with ThreadPoolExecutor(12) as pool:
        statuses = sorted(pool.map(one, range(12)))
    assert statuses == [200] + [412] * 11
