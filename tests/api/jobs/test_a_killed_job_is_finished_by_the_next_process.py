"""Kill -9 in the middle of a job: the next process finishes it, and its effects are there once."""

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

from sqlmodel import func, select

from api import jobs
from api.jobs import queue
from api.storage import schema
from api.storage.session import reading, writing
from api.storage.tables import Fleet, Job, Vehicle
from tests.api.support import fresh_database

CARS = 40


@contextmanager
def process(url, way="serve"):
    started = subprocess.Popen(
        [sys.executable, "-m", "tests.api.jobs.process", way, url, "0"], stderr=subprocess.DEVNULL
    )
    try:
        yield started
    finally:
        if started.poll() is None:
            started.send_signal(signal.SIGTERM)
            started.wait(30)


def prepared(database):
    schema.migrate(database)
    queue.prepare(database)
    with writing(database) as session:
        fleet = Fleet(name="one")
        session.add(fleet)
        session.flush()
        return fleet.id


def add_job(database, fleet_id):
    with writing(database) as session:
        payload = {"cars": CARS, "seconds_each": 0.05}
        return jobs.enqueue(session, fleet_id, kind="test add cars", payload=payload).id


def seen(database, job_id):
    with reading(database) as session:
        cars = session.exec(select(func.count()).select_from(Vehicle)).one()
        job = session.get(Job, job_id)
        return cars, job.state, job.attempt


def wait_until(condition, seconds=60):
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited too long"
        time.sleep(0.05)


def url_of(database):
    return database.url.render_as_string(hide_password=False)


def test_killed_in_the_middle(tmp_path):
    with fresh_database(tmp_path) as database:
        job_id = add_job(database, prepared(database))
        with process(url_of(database)) as first:
            wait_until(lambda: seen(database, job_id)[0] >= 5)
            os.kill(first.pid, signal.SIGKILL)
            first.wait()
        cars, state, attempt = seen(database, job_id)
        assert 5 <= cars < CARS
        assert (state, attempt) == ("running", 1)
        silence = 0 if database.is_sqlite else 40
        with process(url_of(database)):
            wait_until(lambda: seen(database, job_id)[1] == "succeeded", seconds=60 + silence)
        assert seen(database, job_id) == (CARS, "succeeded", 2)


def test_stopped_in_good_order_in_the_middle(tmp_path):
    with fresh_database(tmp_path) as database:
        job_id = add_job(database, prepared(database))
        with process(url_of(database)) as first:
            wait_until(lambda: seen(database, job_id)[0] >= 5)
            began = time.monotonic()
            first.send_signal(signal.SIGTERM)
            assert first.wait(30) == 0
            assert time.monotonic() - began < 15
        assert seen(database, job_id)[1] == "running"
        with process(url_of(database)):
            wait_until(lambda: seen(database, job_id)[1] == "succeeded")
        assert seen(database, job_id) == (CARS, "succeeded", 2)
