"""A service with planted routes."""

import pytest

from tests.api.conventions import planted
from tests.api.support import fresh_settings, running


@pytest.fixture(scope="package")
def planted_service(tmp_path_factory):
    """A service that also has the planted routes, and no worker."""
    settings = fresh_settings(tmp_path_factory.mktemp("planted"), jobs=False)
    with running(settings, change_app=lambda app: app.include_router(planted.router)) as found:
        yield found


@pytest.fixture
def planted_client(planted_service):
    """A client of a fresh fleet on the planted service."""
    with planted_service.fleet().client("write") as found:
        yield found
