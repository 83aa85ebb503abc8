"""Databases of a test's own."""

import pytest

from api.storage import schema
from tests.api.support import fresh_database


@pytest.fixture
def empty(tmp_path):
    """A database without tables."""
    with fresh_database(tmp_path) as found:
        yield found


@pytest.fixture
def database(empty):
    """A database at this release's schema."""
    schema.migrate(empty)
    return empty
