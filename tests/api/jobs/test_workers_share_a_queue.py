"""Several workers on one PostgreSQL share the jobs, and every effect happens once."""

import os
import signal

import pytest
from sqlmodel import func, select

from api.storage.session import reading
from api.storage.tables import Job, Vehicle
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


def test_one_worker_is_killed_and_the_other_takes_over_what_it_left(tmp_path):
    """A worker silent for 30 s has its jobs taken over; each car is there once, although two have worked on them."""
    with fresh_database(tmp_path) as database:
        fleet_id = prepared(database)
        url = url_of(database)
        with process(url, "work") as first:
            left = [add_job(database, fleet_id) for _ in range(2)]
            wait_until(lambda: all(seen(database, job)[1] == "running" for job in left))
            wait_until(lambda: seen(database, left[0])[0] >= 6)
            with process(url, "work"):
                os.kill(first.pid, signal.SIGKILL)
                first.wait()
                fresh = [add_job(database, fleet_id) for _ in range(2)]
                wait_until(lambda: all(seen(database, job)[1] == "succeeded" for job in fresh), seconds=25)
                assert {seen(database, job)[1] for job in left} == {"running"}
                wait_until(lambda: ended(database) == 4, seconds=70)
        with reading(database) as session:
            rows = {row.id: row for row in session.exec(select(Job))}
            cars = session.exec(select(func.count()).select_from(Vehicle)).one()
    assert cars == 4 * CARS
    assert {rows[job].attempt for job in left} == {2}
    assert {rows[job].attempt for job in fresh} == {1}
    assert len({row.worker_id for row in rows.values()}) == 1
