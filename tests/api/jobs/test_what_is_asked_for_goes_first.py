"""Work by the clock waits behind what somebody asked for, however long it has been in the queue."""

from sqlmodel import col, select

from api import jobs
from api.storage.session import reading, writing
from api.storage.tables import Job
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import (
    prepared,
    process,
    url_of,
    wait_until,
)
from tests.api.support import fresh_database

BY_THE_CLOCK = 20


def ended(database):
    with reading(database) as session:
        found = session.exec(select(Job).where(Job.state == "succeeded").order_by(col(Job.started_at))).all()
        return [job.payload["cars"] for job in found]


def test_a_job_asked_for_overtakes_work_by_the_clock(tmp_path):
    with fresh_database(tmp_path) as database:
        fleet_id = prepared(database)
        with writing(database) as session:
            for cars, behind in [(1, True)] * BY_THE_CLOCK + [(2, False)]:
                payload = {"cars": cars, "seconds_each": 0.01}
                jobs.enqueue(session, fleet_id, kind="test add cars", payload=payload, behind=behind)
        with process(url_of(database), "work" if not database.is_sqlite else "serve"):
            wait_until(lambda: len(ended(database)) == BY_THE_CLOCK + 1)
        order = ended(database)
    assert 2 in order[:4], "among the first that the worker's few threads began"
