"""Idempotency-Key: the same request again gets the first answer; another one is refused; twins wait; refusals keep nothing."""

from concurrent.futures import ThreadPoolExecutor

CAR = {"name": "The green one", "distance_unit": "mi"}


def post(client, body, key):
    return client.post("/v1/vehicles", json=body, headers={"Idempotency-Key": key})


def cars(client):
    return client.get("/v1/vehicles").json()["items"]


def test_the_repetition_gets_the_first_answer_whole(client):
    first, again = post(client, CAR, "k1"), post(client, CAR, "k1")
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    assert again.headers["location"] == first.headers["location"]
    assert again.headers["etag"] == first.headers["etag"]
    assert "idempotency-replayed" not in first.headers
    assert again.headers["idempotency-replayed"] == "true"
    assert len(cars(client)) == 1


def test_without_a_key_two_posts_make_two(client):
    client.post("/v1/vehicles", json=CAR)
    client.post("/v1/vehicles", json=CAR)
    assert len(cars(client)) == 2


def test_another_body_under_the_same_key_is_refused(client):
    post(client, CAR, "k1")
    other = post(client, {**CAR, "name": "The red one"}, "k1")
    assert other.status_code == 422
    assert other.json()["errors"][0]["field"] == "Idempotency-Key"
    assert len(cars(client)) == 1


def test_a_refusal_keeps_nothing_so_the_corrected_request_passes(client):
    assert post(client, {**CAR, "distance_unit": "leagues"}, "k1").status_code == 422
    assert post(client, CAR, "k1").status_code == 201


def test_twins_at_the_same_moment_make_one(fleet):
    def one(_):
        with fleet.client("write") as client:
            return post(client, CAR, "twins")

    with ThreadPoolExecutor(12) as pool:
        answers = list(pool.map(one, range(12)))
    assert {answer.status_code for answer in answers} == {201}
    assert len({answer.json()["id"] for answer in answers}) == 1
    assert sum("idempotency-replayed" not in answer.headers for answer in answers) == 1
    with fleet.client() as client:
        assert len(cars(client)) == 1


def test_another_fleets_key_of_the_same_text_is_another_key(service):
    with service.fleet().client() as one, service.fleet().client() as two:
        first, second = post(one, CAR, "same"), post(two, CAR, "same")
        assert first.json()["id"] != second.json()["id"]


def test_another_key_of_the_fleet_does_not_get_the_answer(fleet):
    with fleet.client("write") as writer, fleet.client("admin") as admin:
        post(writer, CAR, "k1")
        assert post(admin, CAR, "k1").status_code == 422


def test_a_read_key_is_refused_as_without_the_header(reading):
    assert post(reading, CAR, "k1").status_code == 403


def test_a_key_that_is_not_printable_is_malformed(client):
    for key in ("", "x" * 256, "a\tb"):
        assert post(client, CAR, key).status_code == 422


def test_an_api_key_is_never_kept_for_repetition(admin):
    response = admin.post("/v1/keys", json={"scope": "read"}, headers={"Idempotency-Key": "k"})
    assert response.status_code == 422
    assert len(admin.get("/v1/keys").json()["items"]) == 3
