"""RFC 9110: HEAD gives the headers of GET and no body, keys and refusals included."""


def test_the_headers_of_get_without_the_body(client):
    location = client.post("/v1/vehicles", json={"name": "a", "distance_unit": "km"}).headers["location"]
    get, head = client.get(location), client.head(location)
    assert head.status_code == get.status_code == 200
    assert head.content == b""
    for name in ("content-type", "content-length", "etag"):
        assert head.headers[name] == get.headers[name]


def test_refusals_too(client, nobody):
    assert nobody.head("/v1/vehicles").status_code == 401
    assert client.head("/v1/vehicles/none").status_code == 404
    assert client.head("/v1/fitments").status_code == 404


def test_not_where_there_is_no_get(client):
    response = client.head("/v1/part-kinds/rotor_arm/refits")
    assert response.status_code == 405
    assert response.headers["allow"] == "POST"
