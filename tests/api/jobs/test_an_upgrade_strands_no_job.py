"""What an older release queued, a newer one runs: places in the queue carry a version of their own, not the release's."""

from importlib import metadata

import sqlalchemy

from api.jobs import queue
from api.storage.session import reading
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import (
    CARS,
    add_job,
    prepared,
    process,
    seen,
    url_of,
    wait_until,
)
from tests.api.support import fresh_database


def versions(database):
    table = sqlalchemy.table(
        "workflow_status",
        sqlalchemy.column("application_version"),
        schema=None if database.is_sqlite else "dbos",
    )
    with reading(database) as session:
        return set(session.execute(sqlalchemy.select(table.c.application_version)).scalars())


def test_a_job_queued_by_one_release_is_run_by_the_next(tmp_path, monkeypatch):
    """The queue library would run only jobs of its own application version; left to itself, it makes one from the code."""
    with fresh_database(tmp_path) as database:
        fleet_id = prepared(database)
        real = metadata.version
        monkeypatch.setattr(metadata, "version", lambda name: "0.0.1" if name == "wearwright" else real(name))
        job_id = add_job(database, fleet_id)
        monkeypatch.undo()
        assert versions(database) == {queue.PROTOCOL}
        with process(url_of(database)):
            wait_until(lambda: seen(database, job_id)[1] == "succeeded")
        assert seen(database, job_id) == (CARS, "succeeded", 1)


def test_a_place_of_another_version_would_be_left_lying(tmp_path, monkeypatch):
    """The wrong way differs: under a version of its own the same job is not taken."""
    with fresh_database(tmp_path) as database:
        fleet_id = prepared(database)
        monkeypatch.setattr(queue, "PROTOCOL", "an older release")
        stranded = add_job(database, fleet_id)
        monkeypatch.undo()
        taken = add_job(database, fleet_id)
        with process(url_of(database)):
            wait_until(lambda: seen(database, taken)[1] == "succeeded")
            assert seen(database, stranded)[1] == "queued"
