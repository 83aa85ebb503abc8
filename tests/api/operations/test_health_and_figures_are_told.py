"""/healthz, /readyz and /metrics: open to the operator, silent about fleets."""

import httpx

from api.storage.engine import Database
from tests.api.support import fresh_settings, running


def test_alive_and_ready(nobody):
    assert nobody.get("/healthz").json() == {"status": "ok"}
    assert nobody.get("/readyz").json() == {"status": "ok"}


def test_not_ready_without_its_database(tmp_path):
    with running(fresh_settings(tmp_path, jobs=False)) as service:
        service.app.state.database = Database(f"sqlite:///{tmp_path}/none/such.db")
        response = httpx.get(f"{service.base_url}/readyz")
        assert response.status_code == 503
        assert response.headers["retry-after"]
        assert "out of reach" in response.json()["detail"]
        assert httpx.get(f"{service.base_url}/healthz").status_code == 200


def test_requests_are_counted_by_route_not_by_id(client, nobody, fleet):
    car = client.post("/v1/vehicles", json={"name": "a", "distance_unit": "km"}).json()
    client.get(f"/v1/vehicles/{car['id']}")
    client.get("/v1/nothing/at/all")
    text = nobody.get("/metrics").text
    assert 'wearwright_requests_total{method="GET",route="/v1/vehicles/{vehicle_id}",status="200"}' in text
    assert 'route="unknown"' in text
    assert "wearwright_request_seconds_bucket" in text
    for secret in (car["id"], fleet.id, fleet.keys["write"], "nothing/at/all"):
        assert secret not in text


def test_an_answer_names_its_request_and_keeps_a_name_that_is_given(nobody):
    assert nobody.get("/healthz").headers["x-request-id"]
    given = "0c6cf8b2a0e14b0a9c2b1de3a0a0b8f1"
    assert nobody.get("/healthz", headers={"X-Request-ID": given}).headers["x-request-id"] == given
    forged = nobody.get("/healthz", headers={"X-Request-ID": 'x" injected="y'}).headers["x-request-id"]
    assert "injected" not in forged
