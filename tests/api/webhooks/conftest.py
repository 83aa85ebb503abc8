"""Fixtures: a receiver on loopback that the service may reach, and a webhook that leads to it."""

import pytest

from tests.api.webhooks.receiver import receiving


@pytest.fixture
def receiver():
    """A real receiver."""
    with receiving() as found:
        yield found


@pytest.fixture
def listed(service, monkeypatch):
    """Hosts that the operator lists; the running service and its worker see them at once."""

    def let(*hosts):
        monkeypatch.setattr(service.app.state.settings, "webhook_hosts", hosts)

    let("127.0.0.1")
    return let


@pytest.fixture
def add_hook(client, receiver, listed):
    """Registers a webhook that leads to the receiver; gives the answer."""

    def _add(*events, **fields):
        body = {"url": receiver.url(), "events": events or ["digest.ready"], **fields}
        return client.post("/v1/webhooks", json=body).raise_for_status().json()

    return _add


@pytest.fixture
def ping(client, fleet):
    """Sends an event without news and waits for the job; gives the job."""

    def _ping(hook):
        asked = client.post(f"/v1/webhooks/{hook['id']}/ping").raise_for_status()
        return fleet.wait_for_job(asked.headers["Location"])

    return _ping
