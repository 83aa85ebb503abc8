"""Several workers on one PostgreSQL share the jobs, and every effect happens once."""

import os

import pytest
from sqlmodel import func, select

from api.storage.session import reading
from api.storage.tables import Job, Vehicle
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import (
    CARS,
    add_job,
    prepared,
    process,
    url_of,
    wait_until,
)
from tests.api.support import fresh_database

pytestmark = pytest.mark.skipif(
    os.environ.get("WEARWRIGHT_TEST_DATABASE") != "postgresql",
    reason="a SQLite file has one process by design",
)


def ended(database):
    with reading(database) as session:
        return session.exec(select(func.count()).select_from(Job).where(Job.state == "succeeded")).one()


def test_two_workers_share_eight_jobs(tmp_path):
    with fresh_database(tmp_path) as database:
        fleet_id = prepared(database)
        for _ in range(8):
            add_job(database, fleet_id)
        url = url_of(database)
        with process(url, "work"), process(url, "work"):
            wait_until(lambda: ended(database) == 8)
        with reading(database) as session:
            rows = session.exec(select(Job)).all()
            cars = session.exec(select(func.count()).select_from(Vehicle)).one()
    assert {row.attempt for row in rows} == {1}
    assert len({row.worker_id for row in rows}) == 2
    assert cars == 8 * CARS
