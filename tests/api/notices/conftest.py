"""Fixtures: events read where they wait to be delivered; nobody listens at their address, and nobody need."""

import json

import pytest

from api.storage.session import reading
from api.webhooks import outbox

ALL = ["due_soon.entered", "due_soon.left", "schedule.changed", "model.changed", "digest.ready"]


@pytest.fixture
def listen(client):
    """Wants events told from now on; gives what was told since, as (kind, data), oldest first."""

    def _listen(*events, seen=None):
        body = {"url": "https://hooks.garage.example/", "events": list(events) or ALL}
        path = client.post("/v1/webhooks", json=body).raise_for_status().headers["Location"]
        told = set()

        def since():
            rows = client.get(f"{path}/deliveries", params={"limit": 200}).raise_for_status().json()["items"]
            new = [row for row in reversed(rows) if row["id"] not in told]
            told.update(row["id"] for row in new)
            bodies = [client.get(f"{path}/deliveries/{row['id']}").json()["body"] for row in new]
            return [(body["type"], body["data"]) for body in bodies]

        return since

    return _listen


@pytest.fixture
def wants(service, fleet):
    """The kinds of events that somebody in the fleet wants."""

    def _wants():
        with reading(service.database) as session:
            return outbox.wanted(session, fleet.id)

    return _wants


def bodies(rows):
    return [json.loads(row.body) for row in rows]
