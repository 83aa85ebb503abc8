"""Jobs enqueued from the outside of a request."""

import pytest

from api import jobs
from api.storage.session import writing
from tests.api.jobs import works


@pytest.fixture(autouse=True)
def registered():
    """The tests' own work."""
    works.register()


@pytest.fixture
def enqueue(service, fleet):
    """Enqueue a job of the test's fleet; gives its address."""

    def _enqueue(kind, **payload):
        with writing(service.database) as session:
            job = jobs.enqueue(session, fleet.id, kind=kind, payload=payload)
        return f"/v1/jobs/{job.id}"

    return _enqueue
