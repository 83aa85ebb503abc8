"""/healthz, /readyz and /metrics: open to the operator, silent about fleets."""

from datetime import timedelta

import httpx
from sqlmodel import select

from api.jobs import queue
from api.storage.engine import Database
from api.storage.session import writing
from api.storage.tables import Job, LifeModel
from api.storage.types import utc_now
from tests.api.history.making import car, fitment, refit, removal
from tests.api.support import fresh_settings, running


def test_alive_and_ready(nobody):
    assert nobody.get("/healthz").json() == {"status": "ok"}
    ready = nobody.get("/readyz").json()
    assert (ready["status"], ready["database"]) == ("ok", "ok")
    assert ready["queue"]["workers"] == 1


def test_ready_tells_how_old_the_fitted_models_are(nobody, client, fleet, service):
    part = fitment(client, car(client), "rotor_arm", "2015-05-01", 20_000)
    removal(client, part, "2020-05-01", "preventive", 30_000)
    before = nobody.get("/readyz").json()["models"]["fitted"]
    assert refit(fleet, client, "rotor_arm")["result"]["source"] == "fitted"
    with writing(service.database) as session:
        row = session.exec(select(LifeModel).where(LifeModel.fleet_id == fleet.id, LifeModel.current)).one()
        row.created_at = utc_now() - timedelta(days=400, hours=1)
    models = nobody.get("/readyz").json()["models"]
    assert (models["fitted"], models["oldest_days"]) == (before + 1, 400)
    assert models["newest_days"] <= 400


def test_not_ready_while_nobody_takes_jobs(tmp_path):
    with running(fresh_settings(tmp_path, jobs=False)) as service:
        queue.prepare(service.database)
        with service.fleet().client() as client:
            client.post("/v1/digests").raise_for_status()
        ready = httpx.get(f"{service.base_url}/readyz")
        assert (ready.status_code, ready.json()["queue"]["waiting"], ready.json()["queue"]["workers"]) == (
            200,
            1,
            0,
        )
        with writing(service.database) as session:
            session.exec(select(Job)).one().created_at = utc_now() - timedelta(minutes=20)
        stuck = httpx.get(f"{service.base_url}/readyz")
        assert stuck.status_code == 503
        assert "waited for 20 minutes; 0 workers" in stuck.json()["detail"]


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
