"""Short ways to put cars and their histories into the service; each checks the status of its answer."""


def made(response):
    """The body of an answer that says "created"."""
    assert response.status_code == 201, response.text
    return response.json()


def car(client, **fields):
    """A car; its id."""
    body = {"name": "Ida", "distance_unit": "km", "built": "1968", "joined_on": "2015-01-01"} | fields
    return made(client.post("/v1/vehicles", json=body))["id"]


def odometer(client, vehicle_id, day, value, unit="km", **fields):
    body = {"read_on": day, "reading": {"value": value, "unit": unit}} | fields
    return made(client.post(f"/v1/vehicles/{vehicle_id}/odometer-readings", json=body))


def fitment(client, vehicle_id, kind, day, value=None, unit="km", **fields):
    """A fitment; its id."""
    body = {"kind": kind, "fitted_on": day} | fields
    if value is not None:
        body["odometer"] = {"value": value, "unit": unit}
    return made(client.post(f"/v1/vehicles/{vehicle_id}/fitments", json=body))["id"]


def removal(client, fitment_id, day, reason, value=None, unit="km", **fields):
    body = {"removed_on": day, "reason": reason} | fields
    if value is not None:
        body["odometer"] = {"value": value, "unit": unit}
    return made(client.post(f"/v1/fitments/{fitment_id}/removal", json=body))


def refit(fleet, client, kind):
    """The job that fitted the kind anew, once it has ended."""
    response = client.post(f"/v1/part-kinds/{kind}/refits")
    assert response.status_code == 202, response.text
    assert response.headers["Location"] == f"/v1/jobs/{response.json()['id']}"
    return fleet.wait_for_job(response.headers["Location"])


def settle(fleet, answer):
    """Wait for the job that applies changed settings, where there is one."""
    assert answer.status_code == 200, answer.text
    job = answer.json()["job"]
    if job is not None:
        ended = fleet.wait_for_job(job)
        assert ended["state"] == "succeeded", ended
    return answer.json()


def items(client, path, **query):
    """All items of a list."""
    response = client.get(path, params=query)
    assert response.status_code == 200, response.text
    return response.json()["items"]


def problem(response, status, field=None):
    """The problem document of a refusal, checked."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"].startswith("application/problem+json")
    body = response.json()
    assert body["status"] == status
    if field is not None:
        named = {entry["field"] for entry in body.get("errors", [])} | {body.get("field")}
        assert field in named, body
    return body
