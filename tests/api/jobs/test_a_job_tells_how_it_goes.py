"""A job: state, progress, result or problem at /v1/jobs/{id}; enqueued with its transaction; stopped when asked."""

import time

import pytest
import sqlalchemy

from api import jobs
from api.storage.session import reading, writing
from tests.api.jobs import works


def test_a_job_gives_its_result(enqueue, fleet):
    job = fleet.wait_for_job(enqueue("test short", a=1))
    assert job["state"] == "succeeded"
    assert job["result"] == {"got": {"a": 1}}
    assert job["problem"] is None
    assert job["created_at"] <= job["started_at"] <= job["finished_at"]


def test_what_the_planner_refuses_is_told(enqueue, fleet):
    job = fleet.wait_for_job(enqueue("test refuse"))
    assert job["state"] == "failed"
    assert job["problem"]["type"] == "/problems/data-cannot-carry"
    assert "there is one" in job["problem"]["detail"]


def test_an_unforeseen_error_shows_nothing_inside(enqueue, fleet):
    job = fleet.wait_for_job(enqueue("test crash"))
    assert job["state"] == "failed"
    assert job["problem"]["status"] == 500
    assert works.INSIDE not in str(job)
    assert job["id"] in job["problem"]["detail"]


def test_a_kind_that_nobody_knows_fails_and_the_next_job_runs(enqueue, fleet):
    assert fleet.wait_for_job(enqueue("test nobody knows"))["state"] == "failed"
    assert fleet.wait_for_job(enqueue("test short"))["state"] == "succeeded"


def test_a_rolled_back_transaction_enqueues_nothing(service, fleet):
    def enqueue_and_fail():
        with writing(service.database) as session:
            jobs.enqueue(session, fleet.id, kind="test short")
            raise ZeroDivisionError

    def places():
        table = sqlalchemy.table("workflow_status", schema=None if service.database.is_sqlite else "dbos")
        with reading(service.database) as session:
            return session.execute(sqlalchemy.select(sqlalchemy.func.count()).select_from(table)).scalar_one()

    before = places()
    with pytest.raises(ZeroDivisionError):
        enqueue_and_fail()
    assert places() == before
    with fleet.client("read") as client:
        assert client.get("/v1/jobs").json()["items"] == []


def test_a_running_job_shows_progress_and_stops_when_asked(enqueue, fleet, client):
    works.started.clear()
    location = enqueue("test endless")
    assert works.started.wait(20)
    deadline = time.monotonic() + 20
    while client.get(location).json()["progress"]["done"] == 0:
        assert time.monotonic() < deadline
        time.sleep(0.05)
    seen = client.get(location).json()
    assert seen["state"] == "running"
    assert (seen["progress"]["total"], seen["progress"]["doing"]) == (10_000, "going on")
    assert client.post(f"{location}/cancellation").status_code == 202
    ended = fleet.wait_for_job(location, seconds=20)
    assert ended["state"] == "cancelled"
    assert client.post(f"{location}/cancellation").status_code == 409


def test_a_queued_job_is_cancelled_at_once_and_never_runs(service, fleet, client):
    with writing(service.database) as session:
        job = jobs.enqueue(session, fleet.id, kind="test short")
        job.state = "queued"
        session.flush()
        from api.jobs import service as rules

        rules.cancel(session, fleet.id, job.id)
    time.sleep(1.5)
    shown = client.get(f"/v1/jobs/{job.id}").json()
    assert shown["state"] == "cancelled"
    assert shown["started_at"] is None


def test_an_unchanged_job_is_not_sent_again(enqueue, fleet, client):
    location = enqueue("test short")
    fleet.wait_for_job(location)
    tag = client.get(location).headers["etag"]
    assert client.get(location, headers={"If-None-Match": tag}).status_code == 304


def test_another_fleets_job_is_not_there(enqueue, stranger, fleet):
    location = enqueue("test short")
    assert stranger.get(location).status_code == 404
    assert stranger.post(f"{location}/cancellation").status_code == 404
    assert stranger.get("/v1/jobs").json()["items"] == []


def test_a_read_key_cannot_cancel(enqueue, reading):
    assert reading.post(f"{enqueue('test short')}/cancellation").status_code == 403
