"""The service of the API tests, for the contract tests too."""

import pytest

from tests.api.support import shared_service


@pytest.fixture(scope="session")
def service():
    """A real service on loopback over a database of its own, with its worker."""
    with shared_service() as found:
        yield found
