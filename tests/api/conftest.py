"""Fixtures: one real service per session, a fresh fleet per test."""

import httpx
import pytest

from tests.api.support import TLS, shared_service


@pytest.fixture(scope="session")
def service():
    """A real service on loopback over a database of its own, with its worker."""
    with shared_service() as found:
        yield found


@pytest.fixture
def fleet(service):
    """A fleet that only this test knows."""
    return service.fleet()


@pytest.fixture
def client(fleet):
    """A client with the fleet's write key."""
    with fleet.client("write") as found:
        yield found


@pytest.fixture
def reading(fleet):
    """A client with the fleet's read key."""
    with fleet.client("read") as found:
        yield found


@pytest.fixture
def admin(fleet):
    """A client with the fleet's admin key."""
    with fleet.client("admin") as found:
        yield found


@pytest.fixture
def stranger(service):
    """A client with another fleet's admin key."""
    with service.fleet().client("admin") as found:
        yield found


@pytest.fixture
def nobody(service):
    """A client without a key."""
    with httpx.Client(base_url=service.base_url, timeout=60, verify=TLS) as found:
        yield found
